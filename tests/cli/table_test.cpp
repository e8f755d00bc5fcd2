// The table and the documents from given values, to the letter.
#include "table.h"

#include <limits>

#include "documents.h"
#include "results_csv.h"
#include "results_json.h"
#include "text.h"

namespace cli_test {
namespace {

gradus::Outcome calibrated(const std::string& image) {
  gradus::Outcome outcome;
  outcome.image = image;
  outcome.division_um = 10.0;
  scale::Calibration calibration;
  calibration.um_per_pixel = {0.690213, 0.000144, 2.03};
  calibration.pixels_per_um = {1.44883, 0.0003, 2.03};
  calibration.fit_uncertainty = 2.1e-6;
  calibration.fit_degrees_of_freedom = 86;
  calibration.axes = {{0.690213, 2.1e-6, 0.0312, 0.12, 0.05}};
  outcome.calibration = calibration;
  outcome.axes = {{0.41, 14.4883, 4e-5, 88, 2, 1e-40}};
  outcome.warnings = {{"budget-incomplete", "not stated"}, {"orientation-tag", "turned"}};
  return outcome;
}

gradus::Outcome refused(const std::string& image) {
  gradus::Outcome outcome;
  outcome.image = image;
  outcome.reason = {"period", "no-ruling", "nothing, \"seen\""};
  return outcome;
}

TEST_CASE("the table rounds to two digits of U, aligns in UTF-8 and says what U leaves out") {
  const std::string table = gradus::table_of({calibrated("µ.png"), refused("blank.png")});
  const auto lines = lines_of(table);
  REQUIRE(lines.size() == 9);
  CHECK(lines[0] == "image        µm/px        U     k  division  graduations  residual rms  direction  notes");
  CHECK(
      lines[2] ==
      "µ.png      0.69021  0.00015  2.03     10 µm           88      0.031 µm      0.41°  2 missing, orientation-tag");
  CHECK(lines[3] == "blank.png  refused: no-ruling: nothing, \"seen\"");
  CHECK(lines[4] == lines[1]);
  CHECK(gradus::display_width(lines[1]) == gradus::display_width(lines[2]));
  CHECK(lines[5] == "1 calibrated, 1 refused.");
  CHECK(contains(table, "It leaves out the uncertainty of the reference\nscale itself, which was not stated"));
}

TEST_CASE("the table of a complete budget does not say that something is left out") {
  gradus::Outcome outcome = calibrated("a.png");
  outcome.calibration->budget_complete = true;
  CHECK_FALSE(contains(gradus::table_of({outcome}), "leaves out"));
  CHECK(contains(gradus::table_of({outcome}), "and the stated uncertainty of the reference scale"));
}

TEST_CASE("JSON and CSV carry every digit that a double has") {
  gradus::Outcome outcome = calibrated("a.png");
  outcome.calibration->um_per_pixel.value = 0.1 + 0.2;  // 0.30000000000000004
  const auto document = nlohmann::json::parse(gradus::calibration_json({outcome}));
  CHECK(document["results"][0]["um_per_pixel"]["value"].get<double>() == 0.1 + 0.2);
  CHECK(contains(gradus::calibration_csv({outcome}), ",0.30000000000000004,"));
}

TEST_CASE("CSV fields with commas, quotes and line breaks are quoted as RFC 4180 says") {
  const std::string csv = gradus::calibration_csv({refused("a,b.png"), refused("a\"b.png"), refused("a\nb.png")});
  CHECK(contains(csv, "\n\"a,b.png\",refused,"));
  CHECK(contains(csv, "\n\"a\"\"b.png\",refused,"));
  CHECK(contains(csv, "\n\"a\nb.png\",refused,"));
  CHECK(contains(csv, ",no-ruling,\"nothing, \"\"seen\"\"\","));
}

TEST_CASE("uncertainties get two significant digits") {
  CHECK(gradus::decimals_for(0.00014) == 5);
  CHECK(gradus::decimals_for(0.014) == 3);
  CHECK(gradus::decimals_for(1.4) == 1);
  CHECK(gradus::decimals_for(14.0) == 0);
  CHECK(gradus::decimals_for(1400.0) == 0);
  CHECK(gradus::decimals_for(0.0) == 12);
  CHECK(gradus::decimals_for(std::numeric_limits<double>::infinity()) == 12);
}

TEST_CASE("text that is no UTF-8 is repaired and control characters are shown") {
  CHECK(gradus::valid_utf8("\u00B5 \u6DF1 \U0001F52C") == "\u00B5 \u6DF1 \U0001F52C");
  CHECK(gradus::valid_utf8("a\xE9"
                           "b") ==
        "a\uFFFD"
        "b");
  CHECK(gradus::valid_utf8("\xC0\xAF") == "\uFFFD\uFFFD");            // overlong
  CHECK(gradus::valid_utf8("\xED\xA0\x80") == "\uFFFD\uFFFD\uFFFD");  // a surrogate
  CHECK(gradus::valid_utf8("\xE6\xB7") == "\uFFFD\uFFFD");            // cut
  CHECK(gradus::printable("a\nb\x1b[31m") == "a\\nb\\x1b[31m");
  CHECK(gradus::display_width("\u00B5m") == 2);
}

}  // namespace
}  // namespace cli_test
