#include <doctest/doctest.h>
#include <scale/quantity_text.h>

#include <cmath>

namespace {

// A product of two doubles: a unit in the last place, relative.
constexpr double kRounding = 4e-16;

bool within(double actual, double expected, double tolerance) {
  const bool good = std::abs(actual - expected) <= tolerance;
  if (!good) MESSAGE("actual ", actual, ", expected ", expected, ", off by ", actual - expected);
  return good;
}

double micrometres(const std::string& text) {
  const auto length = scale::parse_length(text);
  REQUIRE_MESSAGE(length.has_value(), text);
  return length->value;
}

std::string complaint(const std::string& text) {
  const auto length = scale::parse_length(text);
  REQUIRE_FALSE_MESSAGE(length.has_value(), text);
  return length.error();
}

TEST_CASE("lengths are read with every unit and either micro sign") {
  CHECK(micrometres("10um") == 10.0);
  CHECK(micrometres("10 um") == 10.0);
  CHECK(micrometres(" 10um ") == 10.0);
  CHECK(micrometres("10 \u00B5m") == 10.0);  // micro sign
  CHECK(micrometres("10 \u03BCm") == 10.0);  // Greek letter
  CHECK(micrometres("10\u00A0um") == 10.0);  // no-break space
  CHECK(micrometres("10\u202F\u00B5m") == 10.0);
  CHECK(micrometres("1cm") == 10000.0);
  CHECK(micrometres("1m") == 1e6);
  CHECK(within(micrometres("0.01mm"), 10.0, 10.0 * kRounding));
  CHECK(within(micrometres("2.5e4 nm"), 25.0, 25.0 * kRounding));
}

TEST_CASE("what is no length is refused with its cause") {
  CHECK(complaint("10").find("no unit") != std::string::npos);
  CHECK(complaint("0um").find("greater than zero") != std::string::npos);
  CHECK(complaint("-10um").find("greater than zero") != std::string::npos);
  CHECK(complaint("10,5um").find("decimal comma") != std::string::npos);
  CHECK(complaint("1e9m").find("outside 1 nm .. 1 m") != std::string::npos);
  CHECK(complaint("0.1nm").find("outside 1 nm .. 1 m") != std::string::npos);
  CHECK(complaint("1e999um").find("outside 1 nm .. 1 m") != std::string::npos);
  for (const char* text : {"", "abc", "um", "nan um", "inf um", "10 furlongs", "10um2", "0x10um", "10 10um", "ten um"})
    CHECK_FALSE_MESSAGE(scale::parse_length(text).has_value(), text);
}

TEST_CASE("a nominal factor is a length per pixel") {
  CHECK(scale::parse_factor("0.69um/px")->value == 0.69);
  CHECK(scale::parse_factor("0.69 um / px")->value == 0.69);
  CHECK_FALSE(scale::parse_factor("0.69um").has_value());
  CHECK_FALSE(scale::parse_factor("0.69").has_value());
  CHECK_FALSE(scale::parse_factor("0.69um/mm").has_value());
  CHECK_FALSE(scale::parse_factor("/px").has_value());
}

TEST_CASE("the uncertainty of the scale is a share, or a length over a length") {
  CHECK(within(*scale::parse_relative_uncertainty("0.1 %"), 1e-3, 1e-3 * kRounding));
  CHECK(within(*scale::parse_relative_uncertainty("0.1%"), 1e-3, 1e-3 * kRounding));
  CHECK(within(*scale::parse_relative_uncertainty("0.15um/1mm"), 1.5e-4, 1.5e-4 * kRounding));
  for (const char* text : {"", "0 %", "-1 %", "100 %", "0.1", "0.15um", "2mm/1mm", "0.15um/", "a/b", "nan %"})
    CHECK_FALSE_MESSAGE(scale::parse_relative_uncertainty(text).has_value(), text);
}

TEST_CASE("what a lab file says beside lengths has units of its own") {
  CHECK(scale::parse_deviation("-0.04um")->value == -0.04);
  CHECK(scale::parse_deviation("0 mm")->value == 0.0);
  CHECK(within(*scale::parse_share("0.5 %"), 0.005, 1e-18));
  CHECK(*scale::parse_temperature("-3.5 °C") == -3.5);
  CHECK(*scale::parse_temperature_difference("2 K") == 2.0);
  CHECK(*scale::parse_expansion("9.1e-6 /K") == 9.1e-6);
  CHECK(within(scale::parse_tilt("90e-2 deg")->value, 0.9 * scale::kPi / 180.0, 1e-16));
  CHECK(*scale::parse_days("365 d") == 365);
}

TEST_CASE("a unit left out or another unit is refused, and so is what cannot be") {
  CHECK(scale::parse_temperature("21").error() == "'21' has no unit; write it like \"21 degC\"");
  CHECK_FALSE(scale::parse_temperature("294 K").has_value());
  CHECK_FALSE(scale::parse_temperature("210 degC").has_value());
  CHECK_FALSE(scale::parse_temperature_difference("-2 degC").has_value());
  CHECK_FALSE(scale::parse_share("0.5").has_value());
  CHECK_FALSE(scale::parse_share("100 %").has_value());
  CHECK_FALSE(scale::parse_share("-1 %").has_value());
  CHECK_FALSE(scale::parse_expansion("9 /K").has_value());
  CHECK_FALSE(scale::parse_tilt("60 deg").has_value());
  CHECK_FALSE(scale::parse_days("1.5 d").has_value());
  CHECK_FALSE(scale::parse_days("0 d").has_value());
  CHECK_FALSE(scale::parse_deviation("0.04").has_value());
}

}  // namespace
