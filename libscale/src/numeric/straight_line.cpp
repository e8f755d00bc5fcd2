#include "numeric/straight_line.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <vector>

namespace scale::numeric {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
// Gauss-Newton on a line converges in some ten steps; Pearson's data with York's weights take about fifteen.
constexpr int kMaxIterations = 200;
// Steps below this share of the parameters' own uncertainty no longer matter to any digit that is reported.
constexpr double kStepTolerance = 1e-10;

struct WeightedSums {
  double weight = 0.0, mean_x = 0.0, mean_y = 0.0, spread_x = 0.0, cross = 0.0;
};

StraightLine no_line() { return {kNaN, kNaN, kNaN, kNaN, kNaN, kNaN, kNaN, kNaN, kNaN, 0, false}; }

void require_same_length(std::size_t expected, std::span<const double> values) {
  if (values.size() != expected) throw std::invalid_argument("straight line: the lists differ in length");
}

bool all_positive(std::span<const double> values) {
  return std::all_of(values.begin(), values.end(), [](double u) { return u > 0.0 && std::isfinite(u); });
}

// Two passes, so that a large common offset costs no digits.
WeightedSums weighted_sums(std::span<const double> x, std::span<const double> y, std::span<const double> weights) {
  WeightedSums sums;
  for (std::size_t i = 0; i < x.size(); ++i) {
    sums.weight += weights[i];
    sums.mean_x += weights[i] * x[i];
    sums.mean_y += weights[i] * y[i];
  }
  sums.mean_x /= sums.weight;
  sums.mean_y /= sums.weight;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double offset = x[i] - sums.mean_x;
    sums.spread_x += weights[i] * offset * offset;
    sums.cross += weights[i] * offset * (y[i] - sums.mean_y);
  }
  return sums;
}

// Line with variances for unit variance of sqrt(weight) * error.
StraightLine weighted_line(std::span<const double> x, std::span<const double> y, std::span<const double> weights) {
  const WeightedSums sums = weighted_sums(x, y, weights);
  if (!(sums.spread_x > 0.0) || !std::isfinite(sums.cross)) return no_line();
  StraightLine line;
  line.slope = sums.cross / sums.spread_x;
  line.intercept = sums.mean_y - line.slope * sums.mean_x;
  line.slope_uncertainty = 1.0 / std::sqrt(sums.spread_x);
  line.intercept_uncertainty = std::sqrt(1.0 / sums.weight + sums.mean_x * sums.mean_x / sums.spread_x);
  line.covariance = -sums.mean_x / sums.spread_x;
  line.centroid_x = sums.mean_x;
  line.centroid_uncertainty = 1.0 / std::sqrt(sums.weight);
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double residual = (y[i] - sums.mean_y) - line.slope * (x[i] - sums.mean_x);
    line.chi_squared += weights[i] * residual * residual;
  }
  line.degrees_of_freedom = static_cast<int>(x.size()) - 2;
  line.valid = true;
  return line;
}

void set_residual_sd(StraightLine& line) {
  line.residual_sd = line.degrees_of_freedom > 0 ? std::sqrt(line.chi_squared / line.degrees_of_freedom) : kNaN;
}

void scale_uncertainties(StraightLine& line, double sigma) {
  line.intercept_uncertainty *= sigma;
  line.slope_uncertainty *= sigma;
  line.covariance *= sigma * sigma;
  line.centroid_uncertainty *= sigma;
}

std::vector<double> inverse_squares(std::span<const double> uncertainties) {
  std::vector<double> weights;
  weights.reserve(uncertainties.size());
  for (double u : uncertainties) weights.push_back(1.0 / (u * u));
  return weights;
}

// One Gauss-Newton step of ISO/TS 28037 7.3.1: the points are moved to the estimates of their true abscissae and
// a weighted line is laid through what the present line leaves over there.
struct GdrStep {
  std::vector<double> abscissae, remainders, weights;
};

GdrStep gdr_step(const StraightLine& line, std::span<const double> x, std::span<const double> u_x,
                 std::span<const double> y, std::span<const double> u_y) {
  GdrStep step;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double variance_x = u_x[i] * u_x[i];
    const double variance_y = u_y[i] * u_y[i];
    const double weight = 1.0 / (variance_y + line.slope * line.slope * variance_x);
    step.weights.push_back(weight);
    step.abscissae.push_back((x[i] * variance_y + line.slope * variance_x * (y[i] - line.intercept)) * weight);
    step.remainders.push_back(y[i] - line.intercept - line.slope * x[i]);
  }
  return step;
}

}  // namespace

StraightLine fit_line(std::span<const double> x, std::span<const double> y) {
  require_same_length(x.size(), y);
  StraightLine line = weighted_line(x, y, std::vector<double>(x.size(), 1.0));
  if (!line.valid) return line;
  set_residual_sd(line);
  scale_uncertainties(line, line.residual_sd);
  return line;
}

StraightLine fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> u_y) {
  require_same_length(x.size(), y);
  require_same_length(x.size(), u_y);
  if (!all_positive(u_y)) return no_line();
  StraightLine line = weighted_line(x, y, inverse_squares(u_y));
  if (line.valid) set_residual_sd(line);
  return line;
}

StraightLine fit_line_errors_in_both(std::span<const double> x, std::span<const double> u_x, std::span<const double> y,
                                     std::span<const double> u_y) {
  require_same_length(x.size(), u_x);
  if (!all_positive(u_x)) return no_line();
  StraightLine line = fit_line(x, y, u_y);
  for (int iteration = 0; line.valid && iteration < kMaxIterations; ++iteration) {
    const GdrStep step = gdr_step(line, x, u_x, y, u_y);
    StraightLine change = weighted_line(step.abscissae, step.remainders, step.weights);
    if (!change.valid) return no_line();
    const bool settled = std::abs(change.slope) <= kStepTolerance * change.slope_uncertainty &&
                         std::abs(change.intercept) <= kStepTolerance * change.intercept_uncertainty;
    change.slope += line.slope;
    change.intercept += line.intercept;
    line = change;
    set_residual_sd(line);
    if (settled) return line;
  }
  return no_line();
}

StraightLine fit_line_through_origin(std::span<const double> x, std::span<const double> y) {
  require_same_length(x.size(), y);
  double spread = 0.0;
  double cross = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    spread += x[i] * x[i];
    cross += x[i] * y[i];
  }
  if (!(spread > 0.0) || !std::isfinite(cross)) return no_line();
  StraightLine line;
  line.slope = cross / spread;
  for (std::size_t i = 0; i < x.size(); ++i) line.chi_squared += std::pow(y[i] - line.slope * x[i], 2);
  line.degrees_of_freedom = static_cast<int>(x.size()) - 1;
  line.valid = true;
  set_residual_sd(line);
  line.slope_uncertainty = line.residual_sd / std::sqrt(spread);
  return line;
}

// Through the centroid, not through u(a), u(b) and their covariance: far from the origin those cancel.
Estimate predict_y(const StraightLine& line, double x, double u_x) {
  const double lever = (x - line.centroid_x) * line.slope_uncertainty;
  const double of_line = std::hypot(line.centroid_uncertainty, lever);
  return {line.intercept + line.slope * x, std::hypot(of_line, line.slope * u_x)};
}

Estimate predict_x(const StraightLine& line, double y, double u_y) {
  const double x = (y - line.intercept) / line.slope;
  const double of_line = predict_y(line, x).uncertainty;
  return {x, std::hypot(u_y, of_line) / std::abs(line.slope)};
}

}  // namespace scale::numeric
