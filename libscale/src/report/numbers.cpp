#include "report/numbers.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <limits>

#include "numeric/fixed_text.h"

namespace scale::report {
namespace {

constexpr const char* kMinus = "\u2212";
constexpr const char* kNarrowSpace = "\u202F";
constexpr int kMostDecimals = 15;

std::string digits_of(double value, int decimals) {
  return numeric::fixed(value, std::clamp(decimals, 0, kMostDecimals));
}

std::string superscript(int exponent) {
  static constexpr std::array<const char*, 10> kRaised{"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
  std::string text = exponent < 0 ? "⁻" : "";
  for (const char digit : std::to_string(std::abs(exponent))) text += kRaised[static_cast<std::size_t>(digit - '0')];
  return text;
}

// So many tell no k from that of infinitely many, and their digits are those of rounding.
constexpr double kMostFreedom = 1e6;

}  // namespace

std::string stated(double value, NumberStyle style) {
  constexpr int kDigits = 6, kMostDecimals = 9;
  const double size = std::abs(value);
  const int whole = size > 0.0 ? static_cast<int>(std::floor(std::log10(size))) + 1 : 1;
  std::string text = fixed(value, std::clamp(kDigits - whole, 0, kMostDecimals), style);
  if (text.find(style.decimal_comma ? ',' : '.') == std::string::npos) return text;
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.' || text.back() == ',') text.pop_back();
  return text;
}

bool beyond_counting(double degrees_of_freedom) { return degrees_of_freedom > kMostFreedom; }

std::string fixed(double value, int decimals, NumberStyle style) {
  if (!std::isfinite(value)) return std::isnan(value) ? "–" : value < 0.0 ? std::string(kMinus) + "∞" : "∞";
  std::string digits = digits_of(std::abs(value), decimals);
  // What rounds to nothing has no sign.
  const bool nothing = digits.find_first_not_of("0.") == std::string::npos;
  if (style.decimal_comma) std::replace(digits.begin(), digits.end(), '.', ',');
  return value < 0.0 && !nothing ? kMinus + digits : digits;
}

std::string significant(double value, int digits, NumberStyle style) {
  if (value == 0.0 || !std::isfinite(value)) return fixed(value, 0, style);
  // The exponent after rounding: 9.96 to two digits is 10.
  int exponent = static_cast<int>(std::floor(std::log10(std::abs(value))));
  if (std::abs(value) * std::pow(10.0, -exponent) >= 10.0 - 0.5 * std::pow(10.0, 1 - digits)) ++exponent;
  if (exponent >= -3 && exponent < 6) return fixed(value, std::max(0, digits - 1 - exponent), style);
  const double mantissa = value * std::pow(10.0, -exponent);
  return fixed(mantissa, digits - 1, style) + kNarrowSpace + "×" + kNarrowSpace + "10" + superscript(exponent);
}

std::string freedom_number(double degrees_of_freedom, NumberStyle style) {
  if (beyond_counting(degrees_of_freedom)) return fixed(std::numeric_limits<double>::infinity(), 0, style);
  return fixed(degrees_of_freedom, degrees_of_freedom < 100.0 ? 1 : 0, style);
}

std::string with_unit(const std::string& number, const std::string& unit) { return number + kNarrowSpace + unit; }

std::string percent(double share, int decimals, NumberStyle style) {
  return with_unit(fixed(100.0 * share, decimals, style), "%");
}

std::string signed_fixed(double value, int decimals, NumberStyle style) {
  const std::string text = fixed(value, decimals, style);
  return value > 0.0 && text.find_first_not_of("0.,") != std::string::npos ? "+" + text : text;
}

ReportedText reported(double value, double uncertainty, NumberStyle style) {
  if (!(uncertainty > 0.0) || !std::isfinite(uncertainty)) return {significant(value, 6, style), "–"};
  const Reported rounded = for_report(value, uncertainty);
  return {fixed(rounded.value, rounded.decimals, style), fixed(rounded.uncertainty, rounded.decimals, style)};
}

std::string coordinate(double value) {
  std::string text = digits_of(std::abs(value), 2);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) text.pop_back();
  return value < 0.0 && text != "0" ? "-" + text : text;
}

std::string time_words(const std::string& utc) {
  if (utc.size() != 20 || utc[10] != 'T' || utc[19] != 'Z') return utc;
  return utc.substr(0, 10) + ", " + utc.substr(11, 5) + " UTC";
}

}  // namespace scale::report
