// Text and numbers on their way into a page.
#include <doctest/doctest.h>

#include <limits>

#include "report/html.h"
#include "report/numbers.h"

namespace scale::report {
namespace {

constexpr NumberStyle kPoint{}, kComma{true};
const std::string kInfinite = "∞";

TEST_CASE("text from outside cannot become mark-up") {
  CHECK(escaped("<script>alert('x')</script>") == "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;");
  CHECK(escaped("\" onload=\"x") == "&quot; onload=&quot;x");
  CHECK(escaped("a&amp;b") == "a&amp;amp;b");
  CHECK(foreign("<b>") == "<bdi>&lt;b&gt;</bdi>");
}

TEST_CASE("what would not be seen is made visible") {
  CHECK(escaped("gnp.\u202Efdp") == "gnp.[U+202E]fdp");
  CHECK(escaped("a\u200Bb\uFEFFc\u2066d") == "a[U+200B]b[U+FEFF]c[U+2066]d");
  CHECK(escaped("a\x1b[31m") == "a[U+001B][31m");
  CHECK(escaped("two\nlines\tand") == "two lines and");
}

TEST_CASE("letters of every script stay as they are, and bytes that are no UTF-8 become a mark") {
  CHECK(escaped("µm Ωλ שלום 繊維 🧶") == "µm Ωλ שלום 繊維 🧶");
  CHECK(escaped("a\xFF\xC3") == "a\uFFFD\uFFFD");
  CHECK(escaped(std::string(300, '<')).size() == 1200);
}

TEST_CASE("a style sheet's string cannot be left") {
  const std::string text = css_string("\"}</style><script>\\", 400);
  CHECK(text.front() == '"');
  CHECK(text.back() == '"');
  for (const char bad : {'<', '>', '}', '"'}) CHECK(text.find(bad, 1) >= text.size() - 1);
  CHECK(text.find("\\00005C ") != std::string::npos);
  CHECK(css_string(std::string(5000, 'x'), 60).size() <= 62);
}

// GUM 7.2.6: u_c = 10.47 mOhm may be rounded up to 11 mOhm; 28.05 kHz to 28 kHz; y = 10.057 62 Ohm with u = 27 mOhm
// is 10.058 Ohm.
TEST_CASE("values and uncertainties are rounded as GUM 7.2.6 shows") {
  CHECK(reported(0.0, 10.47, kPoint).uncertainty == "11");
  CHECK(reported(0.0, 28.05, kPoint).uncertainty == "28");
  const ReportedText resistance = reported(10.05762, 0.027, kPoint);
  CHECK(resistance.value == "10.058");
  CHECK(resistance.uncertainty == "0.027");
}

TEST_CASE("an uncertainty of nothing is not made up") { CHECK(reported(1.0, 0.0, kPoint).uncertainty == "–"); }

TEST_CASE("the decimal comma is one, and the minus sign is one") {
  CHECK(fixed(-0.69021, 4, kComma) == "\u22120,6902");
  CHECK(fixed(-0.69021, 4, kPoint) == "\u22120.6902");
  CHECK(fixed(-0.0001, 2, kPoint) == "0.00");
  CHECK(signed_fixed(0.12, 2, kPoint) == "+0.12");
  CHECK(signed_fixed(0.001, 2, kPoint) == "0.00");
}

TEST_CASE("a unit follows a narrow no-break space") {
  CHECK(with_unit("10", "µm") == "10\u202Fµm");
  CHECK(percent(0.0123, 1, kPoint) == "1.2\u202F%");
}

TEST_CASE("significant digits hold through rounding and powers of ten") {
  CHECK(significant(0.0996, 2, kPoint) == "0.10");
  CHECK(significant(9.96, 2, kPoint) == "10");
  CHECK(significant(3.14e-5, 2, kPoint) == "3.1\u202F×\u202F10⁻⁵");
  CHECK(significant(9.99e-5, 2, kPoint) == "1.0\u202F×\u202F10⁻⁴");
  CHECK(significant(std::numeric_limits<double>::infinity(), 2, kPoint) == kInfinite);
  CHECK(significant(0.0, 3, kPoint) == "0");
}

TEST_CASE("coordinates of a drawing keep their point and are short") {
  CHECK(coordinate(12.5) == "12.5");
  CHECK(coordinate(-0.001) == "0");
  CHECK(coordinate(100.0) == "100");
  CHECK(coordinate(-3.456) == "-3.46");
}

TEST_CASE("in a sentence a number keeps its unit, and a name stays as it is") {
  CHECK(sentence("U 0.025 %, 100 µm at 21 °C") == "<bdi>U 0.025\u202F%, 100\u202Fµm at 21\u202F°C</bdi>");
  CHECK(sentence("(9.1 ± 0.9) × 10⁻⁶ /K") == "<bdi>(9.1\u00A0±\u00A00.9)\u00A0×\u00A010⁻⁶\u202F/K</bdi>");
  CHECK(sentence("2 pxl, a % b, 5  %") == "<bdi>2 pxl, a % b, 5  %</bdi>");
  CHECK(sentence("<b> 5 %") == "<bdi>&lt;b&gt; 5\u202F%</bdi>");
  CHECK(sentence("by -0.133 % (-2 µm)") == "<bdi>by \u22120.133\u202F% (\u22122\u202Fµm)</bdi>");
  CHECK(sentence("a -5.png, a-5 %, - 5 %") == "<bdi>a -5.png, a-5\u202F%, - 5\u202F%</bdi>");
  CHECK(foreign("5 %/a b") == "<bdi>5 %/<wbr>a b</bdi>");
}

TEST_CASE("a time is written out") {
  CHECK(time_words("2026-02-28T09:30:00Z") == "2026-02-28, 09:30 UTC");
  CHECK(time_words("later") == "later");
}

}  // namespace
}  // namespace scale::report
