// Certified sizes as rendered figures through the whole way. They test the arithmetic from pixels to micrometres, not
// the optics of the artefact: a sphere or a glass cylinder in a microscope shows more than its outline.
#include <doctest/doctest.h>

#include <scale/measurement.h>

#include <cmath>

#include "micrograph/files.h"
#include "micrograph/render.h"
#include "micrograph/specimen.h"
#include "support/grey_picture.h"
#include "support/within.h"

using namespace scale;

namespace {

MeasuredBody measured(const micrograph::Scene& scene, double um_per_pixel) {
  const SpecimenReading reading = find_bodies(test_support::grey_picture(scene).view());
  REQUIRE(reading.bodies.size() == 1);
  MeasurementConditions conditions;
  conditions.scale.x_um_per_pixel = conditions.scale.y_um_per_pixel = um_per_pixel;
  conditions.edge_uncertainty = Micrometres{0.0};
  conditions.grey = GreyCurve::linear;
  return measure_bodies(reading, conditions)[0];
}

}  // namespace

TEST_CASE("SRM 1960, a sphere of 9.89 um +- 0.04 um (NIST J. Res., as reported), drawn as a disc") {
  constexpr double kFactor = 0.1, kDiameter = 9.89;  // um/px, um
  micrograph::Scene scene = micrograph::empty_slide(1960);
  scene.width = 320, scene.height = 300;
  scene.bodies.push_back(
      micrograph::ellipse_grain(160.3, 149.6, 0.5 * kDiameter / kFactor, 0.5 * kDiameter / kFactor, 0.0));
  const MeasuredBody disc = measured(scene, kFactor);
  CHECK(within(*disc.equivalent_diameter_um, kDiameter, 0.005));  // a twentieth of a pixel
  CHECK(within(disc.width_um.value, kDiameter, 0.01));
  // En against the certificate, whose U is of two standard deviations.
  CHECK(std::abs(normalised_error(disc.width_um.value, disc.width_um.expanded(), kDiameter, 0.04)) < 1.0);
}

TEST_CASE(
    "cladding of an optical fibre, 125.0 um +- 0.7 um (IEC 60793-2-50, read on a maker's sheet), drawn as a bar") {
  constexpr double kFactor = 0.5, kWidth = 125.0;
  micrograph::Scene scene = micrograph::empty_slide(125);
  scene.width = 700, scene.height = 520;
  scene.bodies.push_back(micrograph::arc_fibre(350.2, 260.4, 3.0, 1500.0, kWidth / kFactor));
  const MeasuredBody fibre = measured(scene, kFactor);
  CHECK(fibre.at_border);
  CHECK(within(fibre.width_um.value, kWidth, 0.02));
}
