#include "specimen/rim_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace scale {
namespace {

using Parameters = Eigen::Matrix<double, 5, 1>;  // edge, rim width, rim height, middle height, blur

enum class Rim { even, falling };

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

Parameters improved(const Points& points, Rim rim, const Parameters& p, double damping, int free) {
  Eigen::MatrixXd slopes(points.t.size(), free);
  Eigen::VectorXd residuals(points.t.size());
  for (std::size_t i = 0; i < points.t.size(); ++i) {
    const double here = model(rim, p, points.t[i]);
    residuals[i] = points.value[i] - here;
    for (int k = 0; k < free; ++k) {
      Parameters moved = p;
      const double step = 1e-4 * std::max(1.0, std::abs(p[k]));
      moved[k] += step;
      slopes(i, k) = (model(rim, moved, points.t[i]) - here) / step;
    }
  }
  Eigen::MatrixXd normal = slopes.transpose() * slopes;
  normal.diagonal() *= 1.0 + damping;
  Parameters result = p;
  result.head(free) += normal.ldlt().solve(slopes.transpose() * residuals);
  result[1] = std::max(result[1], 0.2);
  result[4] = std::max(result[4], 0.2);
  return result;
}

struct Fitted {
  bool good = false;
  double edge = 0.0, blur = 0.0, rms = 0.0;
};

Fitted fitted(const Points& points, Rim rim, Parameters p, double blur, int free) {
  double cost = points.cost(rim, p), damping = 1e-2;
  for (int i = 0; i < 40; ++i) {
    const Parameters next = improved(points, rim, p, damping, free);
    const double then = points.cost(rim, next);
    if (then < cost)
      p = next, cost = then, damping *= 0.3;
    else
      damping *= 5.0;
  }
  Fitted fit{false, p[0], p[4], std::sqrt(cost / static_cast<double>(points.t.size()))};
  // Half a blur is what a rim of no width would make; more is no correction but a bad fit.
  fit.good = fit.rms < 0.05 && std::abs(p[0]) < 1.5 * p[4] && p[2] > 0.5 && p[2] < 5.0 && p[4] < 2.0 * blur;
  return fit;
}

// The even rim, as most have one, unless the other shape fits clearly better. Where both fit alike, as a narrow rim's
// do, either may be the true one: rectangular as far as they are apart.
RimFit weighed(const Fitted& even, const Fitted& falling) {
  constexpr double kClearly = 0.6;  // ratio of the misfits; of bodies thick as a rod it is 0.3 to 0.4
  // Standard uncertainty of the better shape: share of its correction (judgement: rims are no ideal steps).
  constexpr double kShape = 0.3;
  if (!even.good && !falling.good) return {};
  const bool falls = !even.good || (falling.good && falling.rms < kClearly * even.rms);
  const Fitted& best = falls ? falling : even;
  RimFit fit{true, best.edge, best.blur, kShape * std::abs(best.edge)};
  const bool undecided = even.good && falling.good && !falls && even.rms > kClearly * falling.rms;
  if (undecided) fit.doubt = std::max(fit.doubt, std::abs(even.edge - falling.edge) / std::sqrt(3.0));
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
  const int free = known_blur > 0.0 ? 4 : 5;
  Parameters p;
  p << 0.0, std::max(2.0 * rim_depth, 0.5), 1.05, points.value.front(), known_blur > 0.0 ? known_blur : blur;
  return weighed(fitted(points, Rim::even, p, blur, free), fitted(points, Rim::falling, p, blur, free));
}

}  // namespace scale
