// Numbers as a page shows them: rounded by their uncertainty (GUM 7.2.6), with a true minus sign and, when asked, a
// decimal comma.
#pragma once

#include <string>

#include <scale/quantity_text.h>
#include <scale/uncertainty.h>

namespace scale::report {

struct NumberStyle {
  bool decimal_comma = false;
};

// `decimals` digits behind the point.
std::string fixed(double value, int decimals, NumberStyle style);

// `digits` significant ones; powers of ten beyond what reads well, "3.1 × 10⁻⁵". Infinity is "∞".
std::string significant(double value, int digits, NumberStyle style);

// As somebody stated it: up to six digits, without zeros at the end.
std::string stated(double value, NumberStyle style);

// Degrees of freedom that are as good as infinite, beyond a million.
bool beyond_counting(double degrees_of_freedom);

// Degrees of freedom: with one decimal where that says something, "∞" when as good as infinite.
std::string freedom_number(double degrees_of_freedom, NumberStyle style);

// A narrow no-break space before the unit.
std::string with_unit(const std::string& number, const std::string& unit);

// A share in per cent with `decimals` digits.
std::string percent(double share, int decimals, NumberStyle style);

// With its sign, "+0.12".
std::string signed_fixed(double value, int decimals, NumberStyle style);

// Value and uncertainty to the place that both deserve.
struct ReportedText {
  std::string value, uncertainty;
};
ReportedText reported(double value, double uncertainty, NumberStyle style);

// Coordinates inside a drawing: a point in every style, two digits at most, no trailing zeros.
std::string coordinate(double value);

// "2026-02-28T09:30:00Z" as "2026-02-28, 09:30 UTC"; anything else as it is.
std::string time_words(const std::string& utc);

}  // namespace scale::report
