#include "specimen/rim_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace scale {
namespace {

using Parameters = Eigen::Matrix<double, 5, 1>;  // edge, rim width, rim height, middle height, blur

enum class Rim { even, falling };

constexpr double kLeastWidth = 0.2;  // pixels of a rim: narrower ones look the same

double beyond(double t) { return 0.5 * std::erfc(t / std::sqrt(2.0)); }

// Integral of `beyond` from t outwards: a slope that begins at 0 and rises inwards, blurred.
double slope_beyond(double t) {
  constexpr double kDensity = 0.3989422804014327;  // 1 / sqrt(2 pi)
  return kDensity * std::exp(-0.5 * t * t) - t * beyond(t);
}

double model(Rim rim, const Parameters& p, double t) {
  const double outer = (t - p[0]) / p[4], inner = (t - p[0] + p[1]) / p[4];
  if (rim == Rim::even) return p[2] * beyond(outer) + (p[3] - p[2]) * beyond(inner);
  return p[2] * beyond(outer) + (p[3] - p[2]) * p[4] / p[1] * (slope_beyond(outer) - slope_beyond(inner));
}

struct Points {
  std::vector<double> t, value;
  double cost(Rim rim, const Parameters& p) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < t.size(); ++i) sum += std::pow(model(rim, p, t[i]) - value[i], 2);
    return sum;
  }
};

// Which parameters are fitted.
struct Free {
  bool width = true, blur = true;
  std::vector<int> list() const {
    std::vector<int> result = {0, 2, 3};
    if (width) result.push_back(1);
    if (blur) result.push_back(4);
    return result;
  }
};

Parameters improved(const Points& points, Rim rim, const Parameters& p, double damping, const std::vector<int>& free) {
  Eigen::MatrixXd slopes(points.t.size(), free.size());
  Eigen::VectorXd residuals(points.t.size());
  for (std::size_t i = 0; i < points.t.size(); ++i) {
    const double here = model(rim, p, points.t[i]);
    residuals[i] = points.value[i] - here;
    for (std::size_t k = 0; k < free.size(); ++k) {
      Parameters moved = p;
      const double step = 1e-4 * std::max(1.0, std::abs(p[free[k]]));
      moved[free[k]] += step;
      slopes(i, k) = (model(rim, moved, points.t[i]) - here) / step;
    }
  }
  Eigen::MatrixXd normal = slopes.transpose() * slopes;
  normal.diagonal() *= 1.0 + damping;
  const Eigen::VectorXd change = normal.ldlt().solve(slopes.transpose() * residuals);
  Parameters result = p;
  for (std::size_t k = 0; k < free.size(); ++k) result[free[k]] += change[k];
  result[1] = std::max(result[1], kLeastWidth);
  result[4] = std::max(result[4], 0.2);
  return result;
}

struct Range {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  void add(double value) { low = std::min(low, value), high = std::max(high, value); }
  double middle() const { return 0.5 * (low + high); }
};

struct Fitted {
  bool good = false;
  Parameters p = Parameters::Zero();
  double cost = 0.0;
  Range alike, possible;  // of the edge, with every width of the rim that fits as well, or hardly worse
  double rms(const Points& points) const { return std::sqrt(cost / static_cast<double>(points.t.size())); }
};

Fitted descended(const Points& points, Rim rim, const Parameters& from, const std::vector<int>& free, int steps) {
  Fitted fit{false, from, points.cost(rim, from), {}, {}};
  double damping = 1e-2;
  for (int i = 0; i < steps; ++i) {
    const Parameters next = improved(points, rim, fit.p, damping, free);
    const double then = points.cost(rim, next);
    const bool settled = then < fit.cost && then > (1.0 - 1e-9) * fit.cost;
    if (then < fit.cost)
      fit.p = next, fit.cost = then, damping *= 0.3;
    else
      damping *= 5.0;
    if (settled || damping > 1e9) break;
  }
  return fit;
}

// Blur hides how wide a rim is: a narrow strong one and a wider faint one look alike, with edges that differ. Goes from
// the best width to narrower and wider ones as long as they fit nearly as well, and keeps the outermost edges.
void widen(Fitted& fit, const Points& points, Rim rim, bool blur_free) {
  constexpr double kAlike = 1.15;           // of the best sum of squares: as good (judgement)
  constexpr double kExact = 1e-6;           // of the step squared, a point: fits of exact steps are all alike below
  constexpr double kUneven = 2.5e-5;        // likewise, half a percent of the step: what uneven ground alone may make
  constexpr double kFactor = 1.3;           // from width to width
  constexpr int kMost = 16, kRefining = 6;  // widths either way, from a neighbour that fits
  const auto count = static_cast<double>(points.t.size());
  const double alike = kAlike * fit.cost + kExact * count, possible = kAlike * fit.cost + kUneven * count;
  const std::vector<int> free = Free{false, blur_free}.list();
  fit.alike.add(fit.p[0]), fit.possible.add(fit.p[0]);
  for (const double factor : {1.0 / kFactor, kFactor}) {
    Parameters p = fit.p;
    for (int i = 0; i < kMost && p[1] * factor >= kLeastWidth; ++i) {
      p[2] = p[3] + (p[2] - p[3]) / factor;  // the same amount of rim
      p[1] *= factor;
      const Fitted other = descended(points, rim, p, free, kRefining);
      if (other.cost > possible) break;
      p = other.p;
      fit.possible.add(p[0]);
      if (other.cost <= alike) fit.alike.add(p[0]);
    }
  }
}

Fitted fitted(const Points& points, Rim rim, const Parameters& from, double blur, bool blur_free) {
  constexpr int kSteps = 40;
  Fitted fit = descended(points, rim, from, Free{true, blur_free}.list(), kSteps);
  const Parameters& p = fit.p;
  // Half a blur is what a rim of no width would make; more is no correction but a bad fit.
  fit.good = fit.rms(points) < 0.05 && std::abs(p[0]) < 1.5 * p[4] && p[2] > 0.5 && p[2] < 5.0 && p[4] < 2.0 * blur;
  if (fit.good) widen(fit, points, rim, blur_free);
  return fit;
}

// The even rim, as most have one, unless the other shape fits clearly better. Where both fit alike, as a narrow rim's
// do, either may be the true one: rectangular as far as they are apart.
RimFit weighed(const Fitted& even, const Fitted& falling, const Points& points) {
  constexpr double kClearly = 0.6;  // ratio of the misfits; of bodies thick as a rod it is 0.3 to 0.4
  // Standard uncertainty of the better shape: share of its correction (judgement: rims are no ideal steps).
  constexpr double kShape = 0.3;
  if (!even.good && !falling.good) return {};
  const double even_rms = even.rms(points), falling_rms = falling.rms(points);
  const bool falls = !even.good || (falling.good && falling_rms < kClearly * even_rms);
  const Fitted& best = falls ? falling : even;
  // Limits about the middle of what fits as well: as far as the outermost edge that is possible.
  const double middle = best.alike.middle();
  const double apart = std::max(best.possible.high - middle, middle - best.possible.low) / std::sqrt(3.0);
  RimFit fit{true, middle, best.p[4], std::max(kShape * std::abs(middle), apart)};
  const bool undecided = even.good && falling.good && !falls && even_rms > kClearly * falling_rms;
  if (undecided) fit.doubt = std::max(fit.doubt, std::abs(even.p[0] - falling.p[0]) / std::sqrt(3.0));
  return fit;
}

}  // namespace

double MeanProfile::at(double t) const {
  const double place = (t - first) / step;
  const auto j = static_cast<std::ptrdiff_t>(std::floor(place));
  if (j < 0 || j + 1 >= static_cast<std::ptrdiff_t>(values.size())) return std::numeric_limits<double>::quiet_NaN();
  return values[j] + (place - static_cast<double>(j)) * (values[j + 1] - values[j]);
}

double MeanProfile::mean(double from, double to) const {
  double sum = 0.0;
  int count = 0;
  for (double t = from; t <= to; t += step) {
    const double value = at(t);
    if (!std::isfinite(value)) continue;
    sum += value;
    ++count;
  }
  return count > 0 ? sum / count : std::numeric_limits<double>::quiet_NaN();
}

double MeanProfile::passes(double level) const {
  double t = 0.0;
  const double way = at(t) > level ? step : -step;
  for (int i = 0; i < 400; ++i, t += way) {
    const double here = at(t), next = at(t + way);
    if (!std::isfinite(here) || !std::isfinite(next)) break;
    if ((next > level) != (here > level)) return t + way * (level - here) / (next - here);
  }
  return std::numeric_limits<double>::quiet_NaN();
}

RimFit fit_rim(const MeanProfile& mean, double outside, double step, double rim_depth, double room, double blur,
               double known_blur) {
  Points points;
  const double inmost = -std::min(room, 2.0 * rim_depth + 3.0 * blur);
  for (double t = inmost; t <= 4.0 * blur + 1.0; t += mean.step) {
    const double value = mean.at(t);
    if (!std::isfinite(value)) continue;
    points.t.push_back(t);
    points.value.push_back((value - outside) / step);
  }
  if (points.t.size() < 12) return {};
  Parameters p;
  p << 0.0, std::max(2.0 * rim_depth, 0.5), 1.05, points.value.front(), known_blur > 0.0 ? known_blur : blur;
  const bool blur_free = !(known_blur > 0.0);
  return weighed(fitted(points, Rim::even, p, blur, blur_free), fitted(points, Rim::falling, p, blur, blur_free),
                 points);
}

}  // namespace scale
