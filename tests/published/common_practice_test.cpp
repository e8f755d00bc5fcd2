// The arithmetic of the bench: common practice, no source.
#include <doctest/doctest.h>
#include <scale/units.h>

#include <vector>

#include "numeric/straight_line.h"
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
