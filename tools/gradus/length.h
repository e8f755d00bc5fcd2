// Lengths as people write them on a command line: "10um", "10 µm", "0.01mm", "2.5e4 nm".
//
// The point is the decimal point in every locale. A length lies within 1 nm .. 1 m: what is outside was
// mistyped, as no microscope shows it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <tl/expected.hpp>

#include <scale/units.h>

namespace gradus {

// A value, or one line that says what is wrong with the text and how to write it.
template <class Value>
using Parsed = tl::expected<Value, std::string>;

Parsed<scale::Micrometres> parse_length(std::string_view text);

// A nominal factor, "0.69um/px".
Parsed<scale::MicrometresPerPixel> parse_factor(std::string_view text);

// A relative expanded uncertainty (k = 2), as a share: "0.1 %", or a length over the length it holds for,
// "0.15um/1mm". Above 0 and below 1.
Parsed<double> parse_relative_uncertainty(std::string_view text);

}  // namespace gradus
