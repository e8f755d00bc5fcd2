#include "length.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace gradus {
namespace {

constexpr double kLeastMicrometres = 1e-3;  // 1 nm
constexpr double kMostMicrometres = 1e6;    // 1 m

struct Unit {
  std::string_view name;
  double micrometres;
};

// Both code points that look like a micro sign are in use: U+00B5 on keyboards, U+03BC in typeset text.
constexpr std::array<Unit, 7> kUnits = {
    {{"nm", 1e-3}, {"um", 1.0}, {"µm", 1.0}, {"μm", 1.0}, {"mm", 1e3}, {"cm", 1e4}, {"m", 1e6}}};

// A no-break space is what typeset text has between number and unit; the narrow one too.
constexpr std::array<std::string_view, 4> kSpaces = {" ", "\t", "\u00A0", "\u202F"};

struct Number {
  double value = 0.0;
  std::string_view rest;
};

std::string_view trimmed(std::string_view text) {
  for (bool changed = true; changed;) {
    changed = false;
    for (const std::string_view space : kSpaces) {
      if (text.starts_with(space)) text.remove_prefix(space.size()), changed = true;
      if (text.ends_with(space)) text.remove_suffix(space.size()), changed = true;
    }
  }
  return text;
}

tl::unexpected<std::string> problem(std::string_view text, const std::string& cause) {
  std::string message = "'";
  message.append(text).append("' ").append(cause);
  return tl::unexpected<std::string>(message);
}

Parsed<Number> leading_number(std::string_view text, std::string_view whole, const std::string& example) {
  Number number;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number.value);
  if (error == std::errc::result_out_of_range) return problem(whole, "is outside 1 nm .. 1 m");
  if (error != std::errc{} || !std::isfinite(number.value))
    return problem(whole, "does not start with a number; write it like " + example);
  number.rest = trimmed(text.substr(static_cast<std::size_t>(end - text.data())));
  if (number.rest.starts_with(',')) return problem(whole, "has a decimal comma; write a point, like " + example);
  return number;
}

Parsed<double> micrometres_of(std::string_view unit, std::string_view whole, const std::string& example) {
  if (unit.empty()) return problem(whole, "has no unit; write nm, um, mm, cm or m behind it, like " + example);
  const auto found = std::find_if(kUnits.begin(), kUnits.end(), [&](const Unit& u) { return u.name == unit; });
  if (found == kUnits.end())
    return problem(whole, "has no unit of length known here (nm, um, mm, cm, m); write it like " + example);
  return found->micrometres;
}

Parsed<double> positive_micrometres(std::string_view text, std::string_view whole, const std::string& example) {
  const auto number = leading_number(trimmed(text), whole, example);
  if (!number) return tl::unexpected(number.error());
  if (number->value <= 0.0) return problem(whole, "must be greater than zero, like " + example);
  const auto unit = micrometres_of(number->rest, whole, example);
  if (!unit) return tl::unexpected(unit.error());
  const double length = number->value * *unit;
  if (length < kLeastMicrometres || length > kMostMicrometres) return problem(whole, "is outside 1 nm .. 1 m");
  return length;
}

Parsed<double> checked_share(double share, std::string_view whole) {
  if (share <= 0.0) return problem(whole, "must be greater than zero, like \"0.1 %\"");
  if (share >= 1.0) return problem(whole, "is as large as the length itself; write it like \"0.1 %\"");
  return share;
}

}  // namespace

Parsed<scale::Micrometres> parse_length(std::string_view text) {
  return positive_micrometres(text, text, "10um").map([](double um) { return scale::Micrometres{um}; });
}

Parsed<scale::MicrometresPerPixel> parse_factor(std::string_view text) {
  const auto slash = text.find('/');
  if (slash == std::string_view::npos || trimmed(text.substr(slash + 1)) != "px")
    return problem(text, "is no length per pixel; write it like 0.69um/px");
  return positive_micrometres(text.substr(0, slash), text, "0.69um/px").map([](double um) {
    return scale::MicrometresPerPixel{um};
  });
}

Parsed<double> parse_relative_uncertainty(std::string_view text) {
  const std::string example = "\"0.1 %\" or 0.15um/1mm";
  const auto slash = text.find('/');
  if (slash == std::string_view::npos) {
    const auto number = leading_number(trimmed(text), text, example);
    if (!number) return tl::unexpected(number.error());
    if (number->rest != "%")
      return problem(text, "is neither a percentage nor a length over a length; write " + example);
    return checked_share(number->value / 100.0, text);
  }
  const auto part = positive_micrometres(text.substr(0, slash), text, example);
  if (!part) return tl::unexpected(part.error());
  const auto whole = positive_micrometres(text.substr(slash + 1), text, example);
  if (!whole) return tl::unexpected(whole.error());
  return checked_share(*part / *whole, text);
}

}  // namespace gradus
