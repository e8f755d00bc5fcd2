#include <scale/uncertainty.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "calibration/inputs.h"

namespace scale {
namespace {

// Share of the last digit kept that is dropped instead of rounded up: GUM 7.2.6 rounds 28.05 to 28 and 10.47 to 11.
constexpr double kNotWorthRoundingUp = 0.1;

double contribution(const UncertainInput& input) { return input.sensitivity * input.standard_uncertainty; }

double variance_of(std::span<const UncertainInput> inputs, std::span<const Correlation> correlations) {
  double variance = 0.0;
  for (const UncertainInput& input : inputs) variance += std::pow(contribution(input), 2);
  for (const Correlation& pair : correlations)
    variance += 2.0 * pair.coefficient * contribution(inputs[pair.first]) * contribution(inputs[pair.second]);
  return std::max(0.0, variance);  // full anticorrelation may leave a rounding error below zero
}

void require_sound(std::span<const UncertainInput> inputs, std::span<const Correlation> correlations) {
  for (const Correlation& pair : correlations)
    if (pair.first >= inputs.size() || pair.second >= inputs.size() || pair.first == pair.second ||
        !(std::abs(pair.coefficient) <= 1.0))
      throw std::invalid_argument("combine: a correlation must join two inputs with a coefficient within -1 .. 1");
}

}  // namespace

namespace calibration {

void require_sound(std::span<const UncertainInput> inputs) {
  for (const UncertainInput& input : inputs) {
    const bool sound = std::isfinite(input.value) && std::isfinite(input.sensitivity) &&
                       std::isfinite(input.standard_uncertainty) && input.standard_uncertainty >= 0.0 &&
                       (input.degrees_of_freedom > 0.0 || input.standard_uncertainty == 0.0) &&
                       input.limits_inexact_by >= 0.0 && input.limits_inexact_by <= 3.0 * input.standard_uncertainty;
    if (!sound) throw std::invalid_argument("the input '" + input.name + "' has a number out of range");
  }
}

}  // namespace calibration

const char* name_of(Distribution distribution) {
  switch (distribution) {
    case Distribution::normal:
      return "normal";
    case Distribution::student_t:
      return "t";
    case Distribution::rectangular:
      return "rectangular";
    case Distribution::triangular:
      return "triangular";
    case Distribution::arcsine:
      return "arcsine";
    case Distribution::curvilinear_trapezoid:
      return "curvilinear trapezoid";
  }
  throw std::invalid_argument("name_of: no such distribution");
}

double standard_uncertainty_within(double half_width, Distribution distribution) {
  switch (distribution) {
    case Distribution::rectangular:
    case Distribution::curvilinear_trapezoid:  // of exact limits; inexact ones add limits_inexact_by^2 / 9 in squares
      return half_width / std::sqrt(3.0);
    case Distribution::triangular:
      return half_width / std::sqrt(6.0);
    case Distribution::arcsine:
      return half_width / std::sqrt(2.0);
    case Distribution::normal:
    case Distribution::student_t:
      break;
  }
  throw std::invalid_argument("standard_uncertainty_within: this distribution has no limits");
}

double degrees_of_freedom_of_reliability(double relative_uncertainty_of_uncertainty) {
  if (!(relative_uncertainty_of_uncertainty > 0.0))
    throw std::invalid_argument("degrees_of_freedom_of_reliability: the share must be above 0");
  return 0.5 / (relative_uncertainty_of_uncertainty * relative_uncertainty_of_uncertainty);
}

CombinedUncertainty combine(std::span<const UncertainInput> inputs, std::span<const Correlation> correlations,
                            double probability) {
  calibration::require_sound(inputs);
  require_sound(inputs, correlations);
  const double variance = variance_of(inputs, correlations);
  double spread = 0.0;
  for (const UncertainInput& input : inputs)
    if (contribution(input) != 0.0) spread += std::pow(contribution(input), 4) / input.degrees_of_freedom;
  CombinedUncertainty result;
  result.standard_uncertainty = std::sqrt(variance);
  result.degrees_of_freedom = spread > 0.0 ? variance * variance / spread : std::numeric_limits<double>::infinity();
  result.coverage_factor = coverage_factor(result.degrees_of_freedom, probability);
  // A sum that cancels to nothing has no degrees of freedom either, and nothing to expand.
  result.expanded_uncertainty = variance > 0.0 ? result.coverage_factor * result.standard_uncertainty : 0.0;
  return result;
}

Reported for_report(double value, double uncertainty) {
  if (!(uncertainty >= 0.0) || !std::isfinite(uncertainty) || !std::isfinite(value))
    throw std::invalid_argument("for_report: a value and an uncertainty that is not negative are needed");
  if (uncertainty == 0.0) return {value, 0.0, 12};
  constexpr int kMostDecimals = 12;
  const int leading = static_cast<int>(std::floor(std::log10(uncertainty)));
  Reported reported;
  const auto round_at = [&](int decimals) {
    const double unit = std::pow(10.0, -decimals);
    const double steps = uncertainty / unit;
    const bool down = std::floor(steps) > 0.0 && steps - std::floor(steps) <= kNotWorthRoundingUp;
    reported.uncertainty = (down ? std::floor(steps) : std::ceil(steps)) * unit;
    reported.value = std::round(value / unit) * unit;
    reported.decimals = std::clamp(decimals, 0, kMostDecimals);
  };
  round_at(1 - leading);
  // 9.97 becomes 10: two digits then end one place earlier.
  if (reported.uncertainty >= std::pow(10.0, leading + 1) * (1.0 - 1e-9)) round_at(-leading);
  return reported;
}

Conformity conformity(double value, double expanded_uncertainty, double lower_limit, double upper_limit) {
  const double low = value - expanded_uncertainty, high = value + expanded_uncertainty;
  if (low >= lower_limit && high <= upper_limit) return Conformity::conforms;
  return high < lower_limit || low > upper_limit ? Conformity::does_not_conform : Conformity::undecided;
}

double normalised_error(double a, double expanded_a, double b, double expanded_b) {
  return (a - b) / std::hypot(expanded_a, expanded_b);
}

}  // namespace scale
