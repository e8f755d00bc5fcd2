#include "calibration/certified.h"

#include <doctest/doctest.h>

#include "support/drawn_ruling.h"
#include "support/within.h"

using namespace scale;
using test_support::drawn;
using test_support::DrawnShot;

namespace {

constexpr double kExact = 1e-12;

// Corrections that bend: the left half of the scale is right, the right half 0.2 % long.
ReferenceScale bent_scale() {
  ReferenceScale scale{{10.0}};
  scale.divisions = 100;
  scale.free_ends = FreeEnds::down;
  scale.corrections = {{{0.0}, {0.0}}, {{500.0}, {0.0}}, {{1000.0}, {1.0}}};
  scale.uncertainty = CertifiedUncertainty{{0.15}, 0.0, 2.0};
  return scale;
}

double bent_position(int n) { return 10.0 * n + (n > 50 ? (n - 50) * 0.02 : 0.0); }

CalibratedAxis axis_of(const Shot& shot, const ReferenceScale& scale) {
  return calibration::calibrate_axis(shot.reading.rulings.front(), shot.width, shot.height, scale, shot.hints);
}

}  // namespace

TEST_CASE("corrections are linear between the rows of the table and hold beyond its ends") {
  const ReferenceScale scale = bent_scale();
  CHECK(within(calibration::correction_at(scale, 750.0), 0.5, kExact));
  CHECK(within(calibration::correction_at(scale, -10.0), 0.0, kExact));
  CHECK(within(calibration::correction_at(scale, 1200.0), 1.0, kExact));
}

TEST_CASE("certified positions give the true factor, whichever part of the scale is in view and however it is turned") {
  for (const double angle : {0.0, 30.0, 180.0, -150.0})
    for (const double centre : {120.0, 500.0, 880.0}) {
      CAPTURE(angle);
      CAPTURE(centre);
      DrawnShot shot;
      shot.um_per_pixel = 0.3;
      shot.centre_um = centre;
      shot.angle_deg = angle;
      shot.position_um = bent_position;
      Shot taken = drawn(shot);
      taken.hints.centre = Micrometres{centre};
      const CalibratedAxis axis = axis_of(taken, bent_scale());
      REQUIRE_MESSAGE(axis.numbering.known, axis.numbering.reason);
      CHECK(within(axis.um_per_pixel, 0.3, 1e-9));
      CHECK(axis.residual_max_um < 1e-6);
      CHECK(axis.numbering_limits == 0.0);
    }
}

TEST_CASE("where the numbers are not known the mean scale stands, and the limits hold the true factor") {
  for (const double centre : {250.0, 880.0}) {
    DrawnShot shot;
    shot.um_per_pixel = 0.17;
    shot.centre_um = centre;
    shot.position_um = bent_position;
    const CalibratedAxis axis = axis_of(drawn(shot), bent_scale());
    CHECK_FALSE(axis.numbering.known);
    CHECK(axis.numbering_limits > 1e-4);
    CHECK(within(axis.um_per_pixel, 0.17, 0.17 * axis.numbering_limits));
  }
}

TEST_CASE("the certificate's uncertainty is of the length in view and does not shrink with more lines") {
  DrawnShot shot;
  const Shot coarse = drawn(shot);
  const CalibratedAxis axis = axis_of(coarse, bent_scale());
  const double relative = calibration::certificate_uncertainty(coarse.reading.rulings.front(), axis, bent_scale());
  CHECK(within(relative, 0.075 / axis.span_um, kExact));
  Shot fine = coarse;
  auto& lines = fine.reading.rulings.front().graduations;
  lines = {lines.front(), lines[lines.size() / 2], lines.back()};
  CHECK(
      within(calibration::certificate_uncertainty(fine.reading.rulings.front(), axis, bent_scale()), relative, kExact));
  ReferenceScale independent = bent_scale();
  independent.uncertainty->independent_positions = true;
  const double few = calibration::certificate_uncertainty(fine.reading.rulings.front(), axis, independent);
  CHECK(calibration::certificate_uncertainty(coarse.reading.rulings.front(), axis, independent) < 0.5 * few);
}
