// The bound by central differences against its closed form, derived from the Cramer-Rao inequality for a box blurred
// by a Gaussian: for one line sigma_x^2 = sigma^2 sqrt(pi) s / (L A^2 (1 - exp(-w^2 / 4 s^2))), s^2 = blur^2 + 1/12;
// for N equal lines sigma_p^2 = 12 sigma_x^2 / (N (N^2 - 1)). No published table: an independent derivation.
#define DOCTEST_CONFIG_IMPLEMENT_WITH_MAIN
#include "cramer_rao.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "allowance.h"
#include "micrograph/truth.h"
#include "support/within.h"

namespace {

// The closed form takes the pixel's averaging for a Gaussian of the same variance and the line's ends for sharp.
constexpr double kClosedFormError = 0.01;

constexpr double kPitchPx = 40.0, kWidthPx = 9.0, kBlurPx = 1.5, kLengthPx = 400.0;
constexpr int kLines = 12;

micrograph::Scene even_scale() {
  micrograph::Scene scene;
  scene.width = 600;
  scene.height = 500;
  scene.ground.level = 0.8;
  scene.ground.contrast = 0.5;
  scene.optics.gaussian_px = kBlurPx;
  scene.sensor.read_noise = 3.0;
  micrograph::LineScale scale;
  scale.pitch_px = kPitchPx;
  scale.line_width_px = kWidthPx;
  scale.levels = micrograph::Levels::all_equal;
  scale.short_px = scale.medium_px = scale.long_px = kLengthPx;
  scale.count = kLines;
  scale.origin_x = 70.3;
  scale.origin_y = 50.0;
  scene.scales.push_back(scale);
  return scene;
}

double closed_form() {
  const double blur = std::sqrt(kBlurPx * kBlurPx + 1.0 / 12.0);
  const double noise = std::sqrt(3.0 * 3.0 + 1.0 / 12.0) / 255.0;
  const double contrast = 0.8 * 0.5;
  const double information = kLengthPx * contrast * contrast *
                             (1.0 - std::exp(-kWidthPx * kWidthPx / (4.0 * blur * blur))) /
                             (noise * noise * std::sqrt(std::numbers::pi) * blur);
  return std::sqrt(12.0 / (information * kLines * (kLines * kLines - 1.0))) / kPitchPx;
}

double bound(const micrograph::Scene& scene) {
  return accuracy::relative_pitch_bound(scene, micrograph::truth_of(scene));
}

double rough_bound(const micrograph::Scene& scene) {
  return accuracy::rough_relative_pitch_bound(scene, micrograph::truth_of(scene));
}

}  // namespace

TEST_CASE("The bound by differences and the rough one are the closed form for level, equal lines") {
  CHECK(within(bound(even_scale()) / closed_form(), 1.0, kClosedFormError));
  CHECK(within(rough_bound(even_scale()) / closed_form(), 1.0, kClosedFormError));
}

TEST_CASE("Turning the scale leaves the bound as it is") {
  micrograph::Scene scene = even_scale();
  const double turn = std::numbers::pi / 18.0;
  const double dx = 70.3 - 300.0;
  const double dy = 50.0 - 250.0;
  scene.scales.front().angle_deg = 10.0;
  scene.scales.front().origin_x = 300.0 + std::cos(turn) * dx - std::sin(turn) * dy;
  scene.scales.front().origin_y = 250.0 + std::sin(turn) * dx + std::cos(turn) * dy;
  CHECK(within(bound(scene) / closed_form(), 1.0, kClosedFormError));
}

TEST_CASE(
    "Shot noise counts by the light of each sample: its bound lies between those of the dark and the bright level") {
  micrograph::Scene shot = even_scale();
  shot.sensor.read_noise = 0.0;
  shot.sensor.full_well = 5000.0;
  micrograph::Scene dark = even_scale();
  dark.sensor.read_noise = 255.0 * std::sqrt(0.4 / 5000.0);
  micrograph::Scene bright = even_scale();
  bright.sensor.read_noise = 255.0 * std::sqrt(0.8 / 5000.0);
  CHECK(bound(shot) > bound(dark));
  CHECK(bound(shot) < bound(bright));
}

TEST_CASE("What is clipped to white tells nothing") {
  micrograph::Scene scene = even_scale();
  scene.sensor.exposure = 3.0;  // the dark level is 1.2 then
  CHECK(std::isinf(bound(scene)));
  CHECK(std::isinf(rough_bound(scene)));
}

TEST_CASE("Graduation errors add their own variance of the slope of a straight line") {
  micrograph::Scene scene = even_scale();
  scene.scales.front().error_sd_px = 0.4;
  const double of_errors = 0.4 / kPitchPx * std::sqrt(12.0 / (kLines * (kLines * kLines - 1.0)));
  CHECK(within(bound(scene) / std::hypot(closed_form(), of_errors), 1.0, kClosedFormError));
}

TEST_CASE("A share's allowance is the binomial quantile; a full run has none") {
  // P(at most 7 of 300 events of rate 0.01) = 0.9885, at most 8: 0.9964, summed by another program from the
  // binomial formula.
  CHECK(accuracy::most_allowed(300, 0.01, true) == 8.0);
  CHECK(accuracy::least_allowed(300, 0.99, true) == 292.0);
  CHECK(accuracy::most_allowed(300, 0.01, false) == 3.0);
  CHECK(accuracy::most_allowed(300, 0.0, true) == 0.0);
}
