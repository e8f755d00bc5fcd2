#include "calibration/budget.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "numeric/fixed_text.h"

namespace scale::calibration {

BudgetLine relative_line(const std::string& component, double relative, double factor, Distribution distribution,
                         double degrees_of_freedom, const std::string& basis) {
  BudgetLine line;
  line.input = {component, 0.0, relative, distribution, degrees_of_freedom, factor};
  line.contribution = factor * relative;
  line.basis = basis;
  return line;
}

BudgetLine limits_line(const std::string& component, double limits, double factor, const std::string& basis) {
  return relative_line(component, standard_uncertainty_within(limits), factor, Distribution::rectangular, kInfinity,
                       basis);
}

BudgetLine unstated_line(const std::string& component, const std::string& basis) {
  BudgetLine line;
  line.input.name = component;
  line.stated = false;
  line.basis = basis;
  return line;
}

CombinedUncertainty sum_of(const std::vector<BudgetLine>& budget) {
  std::vector<UncertainInput> contributions;
  for (const BudgetLine& line : budget)
    contributions.push_back(
        {line.input.name, 0.0, line.contribution, line.input.distribution, line.input.degrees_of_freedom});
  return combine(contributions);
}

bool is_complete(const std::vector<BudgetLine>& budget) {
  return std::all_of(budget.begin(), budget.end(), [](const BudgetLine& line) { return line.stated; });
}

CalibrationFactor factor_of(double um_per_pixel, const CombinedUncertainty& combined) {
  return {um_per_pixel, combined.expanded_uncertainty, combined.coverage_factor};
}

CalibrationFactor reciprocal_of(double um_per_pixel, const CombinedUncertainty& combined) {
  return {1.0 / um_per_pixel, combined.expanded_uncertainty / (um_per_pixel * um_per_pixel), combined.coverage_factor};
}

std::string percent(double share) { return numeric::fixed(100.0 * share, 2) + " %"; }

std::string in_words(double value) {
  std::array<char, 32> digits{};
  // Three digits; lengths of some hundred or thousand are read better whole.
  const bool whole = std::abs(value) >= 100.0 && std::abs(value) < 1e6;
  char* const last = digits.data() + digits.size();
  const auto written = whole ? std::to_chars(digits.data(), last, std::lround(value))
                             : std::to_chars(digits.data(), last, value, std::chars_format::general, 3);
  return {digits.data(), written.ptr};
}

}  // namespace scale::calibration
