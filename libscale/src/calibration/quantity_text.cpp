#include <scale/quantity_text.h>
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace scale {
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

Parsed<double> any_micrometres(std::string_view text, std::string_view whole, const std::string& example) {
  const auto number = leading_number(trimmed(text), whole, example);
  if (!number) return tl::unexpected(number.error());
  const auto unit = micrometres_of(number->rest, whole, example);
  if (!unit) return tl::unexpected(unit.error());
  return number->value * *unit;
}

Parsed<double> positive_micrometres(std::string_view text, std::string_view whole, const std::string& example) {
  const auto number = leading_number(trimmed(text), whole, example);
  if (number && number->value <= 0.0) return problem(whole, "must be greater than zero, like " + example);
  const auto measured = any_micrometres(text, whole, example);
  if (!measured) return measured;
  const double length = *measured;
  if (length < kLeastMicrometres || length > kMostMicrometres) return problem(whole, "is outside 1 nm .. 1 m");
  return length;
}

Parsed<double> checked_share(double share, std::string_view whole) {
  if (share <= 0.0) return problem(whole, "must be greater than zero, like \"0.1 %\"");
  if (share >= 1.0) return problem(whole, "is as large as the length itself; write it like \"0.1 %\"");
  return share;
}

// A number with one of the units of `spellings`.
Parsed<double> number_with(std::string_view text, std::initializer_list<std::string_view> spellings,
                           const std::string& example) {
  const auto number = leading_number(trimmed(text), text, example);
  if (!number) return tl::unexpected(number.error());
  if (std::find(spellings.begin(), spellings.end(), number->rest) != spellings.end()) return number->value;
  if (number->rest.empty()) return problem(text, "has no unit; write it like " + example);
  return problem(text, "has another unit than is meant here; write it like " + example);
}

Parsed<double> not_negative(const Parsed<double>& value, std::string_view text) {
  if (value && *value < 0.0) return problem(text, "must not be below zero");
  return value;
}

}  // namespace

Parsed<Micrometres> parse_length(std::string_view text) {
  return positive_micrometres(text, text, "10um").map([](double um) { return Micrometres{um}; });
}

Parsed<MicrometresPerPixel> parse_factor(std::string_view text) {
  const auto slash = text.find('/');
  if (slash == std::string_view::npos || trimmed(text.substr(slash + 1)) != "px")
    return problem(text, "is no length per pixel; write it like 0.69um/px");
  return positive_micrometres(text.substr(0, slash), text, "0.69um/px").map([](double um) {
    return MicrometresPerPixel{um};
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

Parsed<Micrometres> parse_deviation(std::string_view text) {
  const auto length = any_micrometres(text, text, "-0.04um");
  if (length && std::abs(*length) > kMostMicrometres) return problem(text, "is outside 1 nm .. 1 m");
  return length.map([](double um) { return Micrometres{um}; });
}

Parsed<double> parse_share(std::string_view text) {
  const auto percent = not_negative(number_with(text, {"%"}, "\"0.5 %\""), text);
  if (percent && *percent >= 100.0) return problem(text, "is as large as the whole; write it like \"0.5 %\"");
  return percent.map([](double value) { return value / 100.0; });
}

Parsed<double> parse_temperature(std::string_view text) {
  const auto degrees_celsius = number_with(text, {"degC", "°C"}, "\"21 degC\"");
  constexpr double kColdest = -50.0, kWarmest = 100.0;  // no room is outside; the number was mistyped
  if (degrees_celsius && (*degrees_celsius < kColdest || *degrees_celsius > kWarmest))
    return problem(text, "is no temperature of a room; write it like \"21 degC\"");
  return degrees_celsius;
}

Parsed<double> parse_temperature_difference(std::string_view text) {
  return not_negative(number_with(text, {"degC", "°C", "K"}, "\"2 degC\""), text);
}

Parsed<double> parse_expansion(std::string_view text) {
  constexpr double kMost = 1e-3;  // per kelvin; no solid expands so much
  const auto per_kelvin = number_with(text, {"/K", "/degC", "1/K", "K^-1"}, "\"9e-6 /K\"");
  if (per_kelvin && std::abs(*per_kelvin) > kMost) return problem(text, "is no expansion; write it like \"9e-6 /K\"");
  return per_kelvin;
}

Parsed<Radians> parse_tilt(std::string_view text) {
  const auto angle = not_negative(number_with(text, {"deg", "°"}, "\"1 deg\""), text);
  constexpr double kMostDegrees = 45.0;
  if (angle && *angle > kMostDegrees) return problem(text, "is steeper than 45°");
  return angle.map([](double value) { return radians_from_degrees(value); });
}

Parsed<int> parse_days(std::string_view text) {
  const auto days = number_with(text, {"d", "days", "day"}, "\"365 d\"");
  constexpr double kMostDays = 36525.0;  // a century
  if (days && !(*days >= 1.0 && *days <= kMostDays && *days == std::floor(*days)))
    return problem(text, "is no whole number of days within a century; write it like \"365 d\"");
  return days.map([](double value) { return static_cast<int>(value); });
}

std::string written_unit(const std::string& unit) { return unit == "degC" ? "°C" : unit == "um" ? "µm" : unit; }

std::string counted(std::size_t count, const std::string& one, const std::string& many) {
  return std::to_string(count) + " " + (count == 1 ? one : many.empty() ? one + "s" : many);
}

}  // namespace scale
