#include "drawn_room.h"

#include <micrograph/random.h>
#include <micrograph/render.h>

#include <algorithm>
#include <cmath>

#include "support/grey_picture.h"

namespace coverage {
namespace {

using micrograph::Random;

constexpr int kWidth = 960, kHeight = 720, kDivisions = 100;
constexpr double kDivisionUm = 10.0, kGlass = 9.1e-6, kCertificateK = 2.0;

// What is true of one room and nobody in it knows.
struct Truth {
  double factor;                  // at the middle of the field, level, at the room's temperature
  double certificate_error;       // relative: how much longer the scale is than its certificate says
  double temperature, expansion;  // of the scale
  std::vector<double> errors_um;  // of the graduations
  double distortion;              // of half the diagonal
  double y_over_x;                // magnification
};

struct Stated {
  double expanded_um;  // of the certificate
  double room = 21.0, room_limits = 2.0, slope_deg = 1.0;
};

// Certified positions to 0.01 um at every tenth, from the true ones by the certificate's own error.
std::vector<scale::Correction> certificate_of(const Truth& truth) {
  std::vector<scale::Correction> rows;
  for (int n = 0; n <= kDivisions; n += 10) {
    const double place = n * kDivisionUm;
    const double deviation = truth.errors_um[static_cast<std::size_t>(n)] - truth.errors_um[0];
    rows.push_back({{place}, {std::round(100.0 * (deviation - truth.certificate_error * place)) / 100.0}});
  }
  return rows;
}

std::vector<double> slide_errors(Random& random) {
  std::vector<double> tenths, errors;
  for (int k = 0; k <= kDivisions / 10 + 1; ++k) tenths.push_back(0.03 * random.normal() + 0.15e-3 * 100.0 * k);
  for (int n = 0; n <= kDivisions; ++n) {
    const auto k = static_cast<std::size_t>(n / 10);
    const double share = n / 10.0 - static_cast<double>(k);
    errors.push_back((1.0 - share) * tenths[k] + share * tenths[k + 1] + 0.015 * random.normal());
  }
  return errors;
}

Truth draw_truth(Random& random, const Stated& stated) {
  Truth truth;
  truth.factor = random.log_uniform(0.3, 1.3);
  truth.errors_um = slide_errors(random);
  truth.temperature = stated.room + random.uniform(-stated.room_limits, stated.room_limits);
  truth.expansion = kGlass + random.uniform(-0.9e-6, 0.9e-6);
  truth.distortion = random.chance(0.5) ? 0.0 : random.uniform(-4e-4, 4e-4);
  truth.y_over_x = 1.0 + random.uniform(-2e-4, 2e-4);
  // One fully correlated error of the length in view, as the certificate says. A slide has one stretch for both
  // directions, and less of it is seen upright: it is drawn for the mean of both, as the factor is one.
  const auto share_of_span = [&](int pixels) {
    return 1.0 / std::min(kDivisions * kDivisionUm, 0.95 * pixels * truth.factor);
  };
  const double share = 0.5 * (share_of_span(kWidth) + share_of_span(kHeight));
  truth.certificate_error = 0.5 * stated.expanded_um * share * random.normal();
  return truth;
}

// Mean of the local factor over the whole field, of both directions.
double mean_factor(const Truth& truth) {
  const double x = 0.5 * kWidth, y = 0.5 * kHeight, r2 = x * x + y * y;
  const double fx = truth.factor / (1.0 + truth.distortion * (x * x + y * y / 3.0) / r2);
  const double fy = truth.factor / truth.y_over_x / (1.0 + truth.distortion * (y * y + x * x / 3.0) / r2);
  return 0.5 * (fx + fy);
}

micrograph::Scene scene_of(const Truth& truth, bool upright, double centre_um, Random& random) {
  const double level = std::cos(random.uniform(-1.0, 1.0) * std::acos(-1.0) / 180.0);  // slope within 1 degree
  const double grown = 1.0 + truth.expansion * (truth.temperature - 20.0);
  const double px = level * grown / truth.factor;  // pixels a micrometre of the scale at 20 degrees
  micrograph::Scene scene;
  scene.width = kWidth, scene.height = kHeight;
  scene.seed = random.bits();
  scene.ground.contrast = random.uniform(0.5, 0.8);
  micrograph::LineScale scale;
  scale.angle_deg = (upright ? 90.0 : 0.0) + random.uniform(-2.5, 2.5);
  scale.pitch_px = kDivisionUm * px;
  scale.count = kDivisions + 1;
  scale.line_width_px = std::max(2.0, 2.5 * px);
  scale.short_px = 60.0, scale.medium_px = 90.0, scale.long_px = 120.0;
  for (const double error : truth.errors_um) scale.errors_px.push_back(error * px);
  const double turn = scale.angle_deg * std::acos(-1.0) / 180.0;
  const double along = centre_um * px, across = 40.0 + random.uniform(-60.0, 60.0);
  scale.origin_x = 0.5 * (kWidth - 1) - along * std::cos(turn) + across * std::sin(turn);
  scale.origin_y = 0.5 * (kHeight - 1) - along * std::sin(turn) - across * std::cos(turn);
  scene.scales = {scale};
  scene.optics.gaussian_px = random.uniform(0.8, 1.4);
  scene.optics.disc_px = random.uniform(0.0, 1.5);
  scene.geometry.magnification_y = truth.y_over_x;
  scene.geometry.distortion = truth.distortion;
  // Refocusing changes the magnification a little, one way for both directions.
  const double refocused = 1.0 + 2e-5 * random.normal();
  scene.geometry.magnification_x *= refocused, scene.geometry.magnification_y *= refocused;
  scene.sensor.full_well = 10000.0, scene.sensor.read_noise = 0.8;
  return scene;
}

scale::Reading read(const micrograph::Scene& scene) {
  return scale::find_rulings(test_support::grey_picture(scene).view());
}

scale::ReferenceScale stated_scale(const Truth& truth, const Stated& stated) {
  scale::ReferenceScale scale;
  scale.division = {kDivisionUm};
  scale.divisions = kDivisions;
  scale.free_ends = scale::FreeEnds::down;
  scale.uncertainty = scale::CertifiedUncertainty{{stated.expanded_um}, 0.0, kCertificateK};
  scale.expansion = scale::Expansion{kGlass, 0.9e-6};
  scale.corrections = certificate_of(truth);
  return scale;
}

}  // namespace

DrawnRoom draw_room(std::uint64_t seed) {
  Random random(seed, 0xc0fe);
  const Stated stated{random.log_uniform(0.08, 0.4)};
  const Truth truth = draw_truth(random, stated);
  DrawnRoom room;
  room.true_factor = mean_factor(truth);
  room.scale = stated_scale(truth, stated);
  room.conditions.room = scale::RoomTemperature{stated.room, stated.room_limits};
  room.conditions.refocused_between_shots = true;
  room.conditions.stated.slope = scale::radians_from_degrees(stated.slope_deg);
  constexpr int kAlongX = 3, kAlongY = 2;
  for (int i = 0; i < kAlongX + kAlongY; ++i) {
    const bool upright = i >= kAlongX;
    const double centre = 500.0 + random.uniform(-90.0, 90.0);
    scale::Shot shot;
    shot.name = "shot " + std::to_string(i);
    shot.width = kWidth, shot.height = kHeight;
    shot.reading = read(scene_of(truth, upright, centre, random));
    shot.hints.centre = scale::Micrometres{centre};
    shot.hints.numbers_run = upright ? scale::NumbersRun::down : scale::NumbersRun::right;
    if (shot.reading.rulings.empty())
      ++room.lost;
    else
      room.shots.push_back(std::move(shot));
  }
  return room;
}

}  // namespace coverage
