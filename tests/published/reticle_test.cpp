// Reticles against worked examples, ISO/TS 28037 and Pearson's data with York's weights.
#include <doctest/doctest.h>
#include <scale/lab.h>
#include <scale/reticle.h>

#include <cmath>
#include <string>
#include <vector>

#include "calibration/reticle_fit.h"
#include "support/within.h"
#include "table.h"

using namespace scale;
using test_support::Table;

namespace {

constexpr double kFourDecimals = 0.5e-4, kThreeDecimals = 0.5e-3;

ReticleCalibration from_zero(double reticle, double micrometer, double division_um = 10.0) {
  const std::vector<EyeReading> readings = {{}, {reticle, micrometer, false, micrometer != std::floor(micrometer), 0}};
  const auto found = calibrate_reticle(readings, ReferenceScale{{division_um}}, {});
  REQUIRE(found);
  return *found;
}

calibration::ReadingPoint point(double x, double u_x, double y, double u_y) {
  calibration::ReadingPoint made;
  made.x = x, made.u_x = u_x, made.y = y, made.u_y = u_y;
  return made;
}

}  // namespace

TEST_CASE("worked examples of eyepiece reticles come out as they are printed") {
  const Table examples("worked_eyepiece.csv");
  for (std::size_t row = 0; row < examples.rows(); ++row) {
    CAPTURE(examples.text(row, "source"));
    const ReticleCalibration found =
        from_zero(examples.number(row, "reticle_divisions"), examples.number(row, "micrometer_divisions"),
                  examples.number(row, "um_per_micrometer_division"));
    // Half a unit of the last printed digit; a tie is rounded either way.
    const double half_unit = 0.5 * std::pow(10.0, -examples.number(row, "printed_decimals"));
    CHECK(within(found.um_per_division.value, examples.number(row, "printed_um_per_reticle_division"),
                 half_unit * (1.0 + 1e-9)));
    CHECK(found.um_per_division.expanded_uncertainty > 0.0);
  }
}

TEST_CASE("99 reticle divisions to 1 mm are 10.1 um each, and 35 of them 353.5 um (common practice, no source)") {
  const ReticleCalibration found = from_zero(99.0, 100.0);
  CHECK(within(found.um_per_division.value, 10.1, 0.05));
  CHECK(within(reticle_length(35.0, found.um_per_division).value, 353.5, 0.05));
}

TEST_CASE("a reticle of 100 um pitch is nominally 25, 10, 2.5 and 1.0 um at 4x, 10x, 40x and 100x") {
  // Practitioners' tables; 10x and 40x as printed, the others by the same rule.
  LabSetup setup;
  setup.reticle_pitch = Micrometres{100.0};
  for (const auto& [objective, expected] : {std::pair{4.0, 25.0}, {10.0, 10.0}, {40.0, 2.5}, {100.0, 1.0}}) {
    setup.conditions.magnification = objective;
    CHECK(within(setup.nominal_division()->value, expected, 1e-12));
  }
}

TEST_CASE("ISO/TS 28037:2010, 7.4, page 21, as readings with uncertainty on both scales") {
  const Table data = Table("iso_ts_28037.csv").where("example", "3_errors_in_x_and_y");
  std::vector<calibration::ReadingPoint> points;
  for (std::size_t row = 0; row < data.rows(); ++row)
    points.push_back(
        point(data.number(row, "x"), data.number(row, "u_x"), data.number(row, "y"), data.number(row, "u_y")));
  const calibration::ReticleFit fit = calibration::fit_points(points);
  REQUIRE(fit.valid);
  CHECK(within(fit.slope, 2.1597, kFourDecimals));
  CHECK(within(fit.slope_uncertainty, 0.1355, kFourDecimals));
  CHECK(within(fit.offsets.front(), 0.5788, kFourDecimals));
  CHECK(within(fit.chi_squared, 2.743, kThreeDecimals));
  CHECK(fit.degrees_of_freedom == 4);
}

TEST_CASE("Pearson's data with York's weights, counted the other way so that the line rises") {
  const Table data("pearson_york.csv");
  std::vector<calibration::ReadingPoint> points;
  for (std::size_t row = 0; row < data.rows(); ++row)
    points.push_back(point(data.number(row, "x"), 1.0 / std::sqrt(data.number(row, "w_x")), -data.number(row, "y"),
                           1.0 / std::sqrt(data.number(row, "w_y"))));
  const calibration::ReticleFit fit = calibration::fit_points(points);
  REQUIRE(fit.valid);
  CHECK(within(fit.slope, 0.480533407, 0.5e-9));
  CHECK(within(-fit.offsets.front(), 5.47991022, 0.5e-8));
  CHECK(within(fit.chi_squared / fit.degrees_of_freedom, 1.4833, kFourDecimals));
}

// A counting graticule must be 100 +- 2 um in the object plane (an EU directive's text). Counting fibres in air is
// regulated work: this tests the arithmetic of the decision, not anybody's fitness for it.
TEST_CASE("a counting graticule of 100 +- 2 um is decided with U as guard band (ISO 14253-1, as reported)") {
  CHECK(conformity(100.5, 1.0, 98.0, 102.0) == Conformity::conforms);
  CHECK(conformity(101.0, 1.0, 98.0, 102.0) == Conformity::conforms);
  CHECK(conformity(101.5, 1.0, 98.0, 102.0) == Conformity::undecided);
  CHECK(conformity(102.5, 1.0, 98.0, 102.0) == Conformity::undecided);
  CHECK(conformity(103.5, 1.0, 98.0, 102.0) == Conformity::does_not_conform);
  CHECK(conformity(96.5, 1.0, 98.0, 102.0) == Conformity::does_not_conform);
  CHECK(conformity(100.0, 2.5, 98.0, 102.0) == Conformity::undecided);
}
