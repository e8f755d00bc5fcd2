#include "budget_table.h"

#include <scale/quantity_text.h>

#include <algorithm>
#include <cmath>

#include "columns.h"
#include "text.h"

namespace gradus {

std::string percent(double share) { return fixed(100.0 * share, 2) + " %"; }

std::string digits(double value) {
  if (value == 0.0) return "0";
  if (std::abs(value) >= 1e-3 && std::abs(value) < 1e4) {
    const int leading = static_cast<int>(std::floor(std::log10(std::abs(value))));
    return fixed(value, std::max(0, 2 - leading));
  }
  const int exponent = static_cast<int>(std::floor(std::log10(std::abs(value))));
  return fixed(value / std::pow(10.0, exponent), 2).append("e").append(std::to_string(exponent));
}

std::string value_words(double value, double expanded_uncertainty) {
  const scale::Reported rounded = scale::for_report(value, expanded_uncertainty);
  return fixed(rounded.value, rounded.decimals) + " ± " + fixed(rounded.uncertainty, rounded.decimals);
}

std::string component_names(const std::vector<scale::BudgetLine>& budget, bool stated) {
  std::string names;
  for (const scale::BudgetLine& line : budget)
    if (line.stated == stated) names.append(names.empty() ? "" : ", ").append(line.input.name);
  return names;
}

std::string budget_lines(const std::vector<scale::BudgetLine>& budget, const std::string& per) {
  const std::vector<std::string> head = {"component",       "u(x)", "unit", "distribution", "d.o.f.",
                                         "u(f), nm/" + per, "basis"};
  std::vector<std::vector<std::string>> rows;
  for (const scale::BudgetLine& line : budget) {
    if (!line.stated) {
      rows.push_back({line.input.name, "?", "", "", "", "not stated", line.basis});
      continue;
    }
    const double freedom = line.input.degrees_of_freedom;
    rows.push_back({line.input.name, digits(line.input.standard_uncertainty), scale::written_unit(line.unit),
                    scale::name_of(line.input.distribution), std::isfinite(freedom) ? fixed(freedom, 0) : "∞",
                    digits(1000.0 * line.contribution), line.basis});
  }
  Columns columns({false, true, false, false, true, true, false});
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  return text + columns.rule();
}

std::string factor_words(const scale::CalibrationFactor& factor, double degrees_of_freedom, const std::string& per) {
  std::string text = "(";
  text.append(value_words(factor.value, factor.expanded_uncertainty)).append(") µm/").append(per).append(", k = ");
  text.append(fixed(factor.coverage_factor, 2)).append(" (95.45 %, effective degrees of freedom ");
  text.append(std::isfinite(degrees_of_freedom) ? fixed(std::floor(degrees_of_freedom * 10.0) / 10.0, 1) : "infinite");
  return text.append("), relative U ").append(percent(factor.expanded_uncertainty / factor.value));
}

}  // namespace gradus
