// Lines of a budget and their sum.
#pragma once

#include <scale/calibration.h>

#include <limits>

namespace scale::calibration {

inline constexpr double kInfinity = std::numeric_limits<double>::infinity();

// A component that is a share of the factor, `relative` its standard uncertainty.
BudgetLine relative_line(const std::string& component, double relative, double factor, Distribution distribution,
                         double degrees_of_freedom, const std::string& basis);

// A component that lies within +- `limits`, a share of the factor, all places alike.
BudgetLine limits_line(const std::string& component, double limits, double factor, const std::string& basis);

// A component that exists and whose size nobody stated.
BudgetLine unstated_line(const std::string& component, const std::string& basis);

// Independent contributions in squares, with Welch-Satterthwaite and k for 95.45 %.
CombinedUncertainty sum_of(const std::vector<BudgetLine>& budget);

bool is_complete(const std::vector<BudgetLine>& budget);

// The factor with its expanded uncertainty, and its reciprocal, which has the same relative one.
CalibrationFactor factor_of(double um_per_pixel, const CombinedUncertainty& combined);
CalibrationFactor reciprocal_of(double um_per_pixel, const CombinedUncertainty& combined);

// A share as a percentage with two decimals, the same in every locale.
std::string percent(double share);

// A length in micrometres, or another number, with the digits that matter to a reader.
std::string in_words(double value);

}  // namespace scale::calibration
