// Quantities as people write them, on a command line and in the lab file: "10um", "10 µm", "0.01mm", "21 degC", "0.5
// %".
//
// The point is the decimal point in every locale. A length lies within 1 nm .. 1 m: what is outside was
// mistyped, as no microscope shows it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <tl/expected.hpp>

#include <scale/units.h>

namespace scale {

// A value, or one line that says what is wrong with the text and how to write it.
template <class Value>
using Parsed = tl::expected<Value, std::string>;

Parsed<Micrometres> parse_length(std::string_view text);

// A nominal factor, "0.69um/px".
Parsed<MicrometresPerPixel> parse_factor(std::string_view text);

// A relative expanded uncertainty (k = 2), as a share: "0.1 %", or a length over the length it holds for,
// "0.15um/1mm". Above 0 and below 1.
Parsed<double> parse_relative_uncertainty(std::string_view text);

// A length that may be nothing or negative, as a correction is: "-0.04um".
Parsed<Micrometres> parse_deviation(std::string_view text);

// A share that may be nothing: "0.5 %" is 0.005. Below 1.
Parsed<double> parse_share(std::string_view text);

// Degrees Celsius, "21 degC" or "21 °C"; and a difference of temperatures, also "2 K", not negative.
Parsed<double> parse_temperature(std::string_view text);
Parsed<double> parse_temperature_difference(std::string_view text);

// Linear expansion per kelvin, "9e-6 /K".
Parsed<double> parse_expansion(std::string_view text);

// An angle out of the plane, "1 deg"; 0 to 45 degrees.
Parsed<Radians> parse_tilt(std::string_view text);

// Whole days, "365 d"; 1 to 36525.
Parsed<int> parse_days(std::string_view text);

// A unit of the budget as people write it: "°C" where files and programs have "degC".
std::string written_unit(const std::string& unit);

// "1 image", "3 images"; `many` where it is not `one` with an s.
std::string counted(std::size_t count, const std::string& one, const std::string& many = "");

}  // namespace scale
