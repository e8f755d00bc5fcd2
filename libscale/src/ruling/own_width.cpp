#include "ruling/own_width.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include <oneapi/tbb/parallel_for.h>
#include <Eigen/Dense>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr int kPasses = 6;
constexpr double kAtRest = 0.01;   // bins
constexpr double kCertain = 5.0;   // standard deviations
constexpr double kOverBlur = 4.0;  // times as surely broader as it is more blurred
constexpr double kNear = 0.5;      // blurs: what one step tells from the shape as it is
constexpr double kLeastCells = 10.0;
constexpr double kLeast = 0.02;        // bins
constexpr double kFlat = 0.05;         // of the height: how far the middle of a line may be from its centre
constexpr double kLeastFlat = 1.0;     // bins
constexpr double kFlatBlurs = 1.5;     // and so many blurs: in thinner lines blur looks like width
constexpr double kSpaceBlurs = 4.0;    // taken from a space by the edges beside it
constexpr double kMostOfFlat = 0.8;    // of the flat middle, taken out of a narrower line
constexpr double kMostOfSpace = 0.5;   // of the space, that a broader line may take
constexpr double kOfOtherWidth = 1.5;  // of the residual variance of a quarter of the lines
constexpr double kSmoothing = 0.3;     // bins, of a line's own shape

// Half of the middle that is flat, bins.
double flat_half(const LineShape& shape, double period) {
  const double centre = shape.at(0.0).value;
  const auto flat = [&](double t) {
    return std::max(std::abs(shape.at(t).value - centre), std::abs(shape.at(-t).value - centre)) <= kFlat;
  };
  const int most = static_cast<int>(0.5 * period / LineShape::step);
  int steps = 0;
  while (steps + 1 < most && flat((steps + 1) * LineShape::step)) ++steps;
  return steps * LineShape::step;
}

struct Step {
  double change = 0.0, uncertainty = 0.0;  // bins
  double by_blur = 0.0;                    // how surely the line is sharper or more blurred, standard deviations
};

// One step of Gauss-Newton from the shape that fits best so far; nothing where it is no line.
std::optional<Step> step_of(const Fold& fold, const LineShape& shape) {
  using Five = Eigen::Matrix<double, 5, 1>;
  Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Zero();
  Five right = Five::Zero();
  double squares = 0.0, cells = 0.0;
  for (const FoldCell& cell : fold.cells) {
    if (std::abs(cell.t) >= shape.window - LineShape::step) continue;
    const LineShape::Sample s = shape.at(cell.t);
    const double curvature = shape.at(cell.t + LineShape::step).slope - shape.at(cell.t - LineShape::step).slope;
    const Five terms{1.0, s.value, s.slope, std::copysign(0.5, cell.t) * s.slope, curvature};
    normal += cell.weight * terms * terms.transpose();
    right += cell.weight * cell.value * terms;
    squares += cell.weight * cell.value * cell.value;
    cells += 1.0;
  }
  const Eigen::LDLT<Eigen::Matrix<double, 5, 5>> factor(normal);
  const Five solution = factor.solve(right);
  if (cells < kLeastCells || !solution.allFinite() || !(solution(1) > 0.0)) return std::nullopt;
  const double left = std::max(0.0, squares - solution.dot(right)) / (cells - 5.0);
  const auto uncertainty = [&](int term) {
    return std::sqrt(std::max(1e-30, left * factor.solve(Five::Unit(term))(term)));
  };
  return Step{-solution(3) / solution(1), uncertainty(3) / solution(1), solution(4) / uncertainty(4)};
}

struct Limits {
  double low = 0.0, high = 0.0;
};

double how_much_broader(const Fold& fold, const LineShape& shape, double period, Limits limits) {
  std::optional<Step> step = step_of(fold, shape);
  if (!step || std::abs(step->change) < kCertain * step->uncertainty) return 0.0;
  double broader = step->change;
  if (std::abs(broader) > kNear * shape.blur) {
    LineShape own = smoothed(fold, kSmoothing);
    normalise_shape(own, period, false);
    broader = own.width - shape.width;
  }
  for (int pass = 0; pass < kPasses; ++pass) {
    if (!(broader >= limits.low && broader <= limits.high)) return 0.0;
    step = step_of(fold, broadened(shape, broader, period));
    if (!step) return 0.0;
    broader += step->change;
    if (std::abs(step->change) < kAtRest) break;
  }
  const double certain = std::max(kCertain, kOverBlur * std::abs(step->by_blur));
  const bool told =
      std::abs(step->change) < kAtRest && std::abs(broader) > std::max(kLeast, certain * step->uncertainty);
  return told ? broader : 0.0;
}

}  // namespace

LineShape broadened(const LineShape& shape, double broader, double period) {
  LineShape own = shape;
  const double last = shape.reach - LineShape::step;
  for (std::size_t i = 0; i < own.value.size(); ++i) {
    const double t = static_cast<double>(i) * LineShape::step - shape.reach;
    own.value[i] = shape.at(std::clamp(narrowed(t, broader), -shape.reach, last)).value;
  }
  differentiate(own);
  own.width += broader;
  own.window = std::min(0.5 * period, shape.window + 0.5 * broader);
  return own;
}

std::vector<bool> may_differ_in_width(const Graduations& g) {
  std::vector<std::vector<double>> left(g.lines.size());
  for (const LineWindow& w : g.windows)
    if (w.fit.pixels > 0.0) left[w.line].push_back(w.fit.residual_variance);
  std::vector<double> usual(g.lines.size(), 0.0), known;
  for (std::size_t l = 0; l < usual.size(); ++l)
    if (!left[l].empty()) known.push_back(usual[l] = numeric::upper_median(std::move(left[l])));
  const double limit = known.empty() ? 0.0 : kOfOtherWidth * numeric::quantile(std::move(known), 0.25);
  std::vector<bool> may(usual.size());
  for (std::size_t l = 0; l < usual.size(); ++l) may[l] = usual[l] > limit || g.lines[l].broader != 0.0;
  return may;
}

std::vector<double> broader_by(const Graduations& g, const std::vector<std::vector<FoldWindow>>& windows) {
  std::vector<double> broader(g.lines.size(), 0.0);
  const double flat = flat_half(g.shape, g.period);
  if (flat < std::max(kLeastFlat, kFlatBlurs * g.shape.blur)) return broader;
  const double space = g.period - g.shape.width - kSpaceBlurs * g.shape.blur;
  const Limits limits{-2.0 * kMostOfFlat * flat, kMostOfSpace * space};
  oneapi::tbb::parallel_for(std::size_t{0}, broader.size(), [&](std::size_t l) {
    if (!windows[l].empty())
      broader[l] =
          how_much_broader(fold_windows(g.strips, windows[l], 0.5 * g.period, &g.shape), g.shape, g.period, limits);
  });
  return broader;
}

}  // namespace scale
