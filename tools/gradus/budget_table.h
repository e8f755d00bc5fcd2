// A budget as text, of a factor per pixel or per reticle division.
#pragma once

#include <scale/calibration.h>

#include <string>
#include <vector>

namespace gradus {

// Three digits, as a budget is read and not computed with.
std::string digits(double value);
std::string percent(double share);

// "0.69021 ± 0.00014", rounded for a report.
std::string value_words(double value, double expanded_uncertainty);

// Names of the components that are stated, or of those that are not: "fit, reference scale"; empty: there are none.
std::string component_names(const std::vector<scale::BudgetLine>& budget, bool stated);

// A line a component, between two rules. `per`: "px" or "div".
std::string budget_lines(const std::vector<scale::BudgetLine>& budget, const std::string& per);

// "(0.69021 ± 0.00014) µm/px, k = 2.00 (95.45 %, effective degrees of freedom infinite), relative U 0.02 %"
std::string factor_words(const scale::CalibrationFactor& factor, double degrees_of_freedom, const std::string& per);

}  // namespace gradus
