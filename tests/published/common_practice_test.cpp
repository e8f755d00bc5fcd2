// The arithmetic of the bench: common practice, no source.
#include <doctest/doctest.h>
#include <scale/setup.h>

#include <vector>

#include "numeric/straight_line.h"
#include "support/drawn_ruling.h"
#include "support/within.h"

using namespace scale;

TEST_CASE("a 1 mm stage micrometer spanning 99 reticle divisions makes 10.1 um a division, and 35 of them 353.5 um") {
  const Micrometres whole_scale = 100 * Micrometres{10.0};
  const MicrometresPerPixel per_division = whole_scale / Pixels{99.0};
  CHECK(within(per_division.value, 10.1, 0.05));
  // Practice multiplies the rounded figure; unrounded the length is 353.54.
  CHECK(within((per_division * Pixels{35.0}).value, 353.5, 0.05));
}

TEST_CASE("one coincidence read from a common left end is a line through the origin") {
  const auto line = numeric::fit_line_through_origin(std::vector<double>{99.0}, std::vector<double>{1000.0});
  CHECK(within(line.slope, 10.1, 0.05));
  CHECK(within(numeric::predict_y(line, 35.0).value, 353.5, 0.05));
}

// Camera pixels of 3.45 um behind a relay lens of 0.5x.
TEST_CASE("nominal factors of 4x, 10x, 20x and 40x objectives are 1.725, 0.690, 0.345 and 0.1725 um per pixel") {
  const auto nominal = [](double objective) { return nominal_factor(Micrometres{3.45}, 1, objective, 0.5).value; };
  CHECK(within(nominal(4), 1.725, 1e-12));
  CHECK(within(nominal(10), 0.690, 1e-12));
  CHECK(within(nominal(20), 0.345, 1e-12));
  CHECK(within(nominal(40), 0.1725, 1e-12));
  CHECK(within(nominal_factor(Micrometres{6.4}, 1, 20.0).value, 0.32, 1e-12));
  CHECK(within(nominal_factor(Micrometres{6.4}, 2, 20.0).value, 0.64, 1e-12));
}

// Expansion of soda-lime glass 9.1e-6 /K (a data sheet); 20 degC is the reference temperature of length (ISO 1).
TEST_CASE("1 mm of soda-lime glass is 46 nm longer at 25 degC than at 20 degC") {
  CHECK(within(1000.0 * 9.1e-6 * (25.0 - 20.0), 0.0455, 1e-12));
  SetupConditions conditions;
  conditions.room = RoomTemperature{25.0, 0.0};
  ReferenceScale scale{{10.0}};
  scale.expansion = Expansion{9.1e-6, 0.0};
  const Shot shot = test_support::drawn({});
  const double warm = calibrate_setup(std::span(&shot, 1), scale, conditions).um_per_pixel.value;
  const double cold = calibrate_setup(std::span(&shot, 1), scale, {}).um_per_pixel.value;
  CHECK(within(1e6 * (warm / cold - 1.0), 46.0, 0.6));
}
