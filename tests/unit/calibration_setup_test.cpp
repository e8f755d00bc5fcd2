#include <doctest/doctest.h>
#include <scale/setup.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "support/drawn_ruling.h"
#include "support/within.h"

using namespace scale;
using test_support::drawn;
using test_support::DrawnShot;

namespace {

ReferenceScale certified_scale() {
  ReferenceScale scale{{10.0}};
  scale.divisions = 100;
  scale.free_ends = FreeEnds::down;
  scale.uncertainty = CertifiedUncertainty{{0.15}, 0.0, 2.0};
  return scale;
}

SetupConditions known_room() {
  SetupConditions conditions;
  conditions.magnification = 10.0;
  conditions.aperture = 0.25;
  conditions.room = RoomTemperature{20.0, 2.0};
  conditions.refocused_between_shots = true;
  conditions.stated.slope = Radians{0.0};  // the drawn slides are level
  return conditions;
}

Shot shot_at(double centre_um, double factor = 0.69, double angle_deg = 0.0) {
  DrawnShot shot;
  shot.um_per_pixel = factor;
  shot.centre_um = centre_um;
  shot.angle_deg = angle_deg;
  return drawn(shot, "at " + std::to_string(static_cast<int>(centre_um)));
}

const BudgetLine& line_of(const SetupCalibration& setup, const std::string& name) {
  for (const BudgetLine& line : setup.budget)
    if (line.input.name == name) return line;
  FAIL("no line " << name);
  return setup.budget.front();
}

bool warned(const SetupCalibration& setup, const std::string& code) {
  return std::any_of(setup.warnings.begin(), setup.warnings.end(), [&](const Warning& w) { return w.code == code; });
}

}  // namespace

TEST_CASE("shots in both directions give x, y and their mean, with half the difference in the budget") {
  const std::vector<Shot> shots = {shot_at(480, 0.69), shot_at(500, 0.69), shot_at(500, 0.691, 90.0),
                                   shot_at(520, 0.691, 90.0)};
  const SetupCalibration setup = calibrate_setup(shots, certified_scale(), known_room());
  REQUIRE((setup.x && setup.y));
  CHECK(within(setup.x->value, 0.69, 1e-9));
  CHECK(within(setup.y->value, 0.691, 1e-9));
  CHECK(within(setup.um_per_pixel.value, 0.6905, 1e-9));
  CHECK(within(line_of(setup, "x-y difference").contribution, 0.0005 / std::sqrt(3.0), 1e-9));
  CHECK(setup.budget_complete);
  CHECK(setup.um_per_pixel.expanded_uncertainty > setup.x->expanded_uncertainty);
}

TEST_CASE("one direction and one shot leave what they cannot tell open") {
  const SetupCalibration setup = calibrate_setup(std::vector{shot_at(500)}, certified_scale(), known_room());
  CHECK_FALSE(setup.budget_complete);
  CHECK_FALSE(line_of(setup, "repeatability").stated);
  CHECK_FALSE(line_of(setup, "x-y difference").stated);
  CHECK(warned(setup, "budget-incomplete"));
  CHECK_FALSE(setup.y.has_value());
}

TEST_CASE("repeatability is pooled over both directions with its degrees of freedom") {
  const std::vector<Shot> shots = {shot_at(480, 0.6901), shot_at(500, 0.6899), shot_at(520, 0.69),
                                   shot_at(500, 0.6902, 90.0), shot_at(520, 0.6898, 90.0)};
  const SetupCalibration setup = calibrate_setup(shots, certified_scale(), known_room());
  const BudgetLine& line = line_of(setup, "repeatability");
  CHECK(line.input.degrees_of_freedom == 3.0);
  // Squares of the relative deviations: 2 (0.0001/0.69)^2 and 2 (0.0002/0.69)^2; weights 1/2 of 1/3 and of 1/2.
  const double pooled = std::sqrt((2.0 * 0.01 + 2.0 * 0.04) / 3.0) * 1e-3 / 0.69;
  CHECK(within(line.contribution, 0.69 * pooled * std::sqrt(0.25 * (1.0 / 3.0 + 1.0 / 2.0)), 2e-9));
}

TEST_CASE("scales crossed in one picture were laid down once, so they repeat once") {
  std::vector<Shot> shots = {shot_at(480, 0.6901), shot_at(500, 0.6899), shot_at(520, 0.69)};
  for (Shot& shot : shots) {
    // Along y the same magnification: what one laying changes, it changes for both.
    const double factor = 10.0 / shot.reading.rulings[0].pitch_px;
    shot.reading.rulings.push_back(shot_at(500, factor, 90.0).reading.rulings[0]);
  }
  const BudgetLine line = line_of(calibrate_setup(shots, certified_scale(), known_room()), "repeatability");
  CHECK(line.input.degrees_of_freedom == 2.0);
  const double one_shot = std::sqrt(2.0 * 0.01 / 2.0) * 1e-3 / 0.69;
  CHECK(within(line.contribution, 0.69 * one_shot / std::sqrt(3.0), 2e-9));
}

TEST_CASE("a shot far from the others is named and left out") {
  const std::vector<Shot> shots = {shot_at(480), shot_at(500), shot_at(520), shot_at(510, 0.70)};
  const SetupCalibration setup = calibrate_setup(shots, certified_scale(), known_room());
  CHECK(within(setup.um_per_pixel.value, 0.69, 1e-9));
  CHECK_FALSE(setup.shots[3].used);
  CHECK(warned(setup, "shot-left-out"));
}

TEST_CASE("the certificate's part does not shrink with more shots") {
  const SetupCalibration one = calibrate_setup(std::vector{shot_at(500)}, certified_scale(), known_room());
  const SetupCalibration four = calibrate_setup(std::vector{shot_at(500), shot_at(500), shot_at(500), shot_at(500)},
                                                certified_scale(), known_room());
  CHECK(within(line_of(four, "reference scale").contribution, line_of(one, "reference scale").contribution, 1e-12));
}

TEST_CASE("a soda-lime scale is 46 ppm longer at 25 degC and the factor says so") {
  ReferenceScale scale = certified_scale();
  scale.expansion = Expansion{9.1e-6, 0.9e-6};
  SetupConditions conditions = known_room();
  conditions.room = RoomTemperature{25.0, 2.0};
  const SetupCalibration setup = calibrate_setup(std::vector{shot_at(500)}, scale, conditions);
  CHECK(within(setup.um_per_pixel.value / 0.69 - 1.0, 45.5e-6, 1e-9));
  CHECK(within(line_of(setup, "temperature of the scale").contribution, 0.69 * 9.1e-6 * 2.0 / std::sqrt(3.0), 1e-9));
}

TEST_CASE("what a room's temperature makes uncertain is known before any shot, of glass of unknown kind too") {
  SetupConditions conditions = known_room();
  const ReferenceScale unknown = certified_scale();
  // Glass of (4.8 +- 4.3) 10^-6 /K in a room within 2 K of the certificate's temperature.
  const double limits = 2.0 / std::sqrt(3.0), spread = 4.3e-6 / std::sqrt(3.0);
  CHECK(within(temperature_uncertainty(unknown, conditions), std::hypot(4.8e-6 * limits, spread * limits), 1e-12));
  conditions.room.reset();
  CHECK(temperature_uncertainty(unknown, conditions) == 0.0);
}

TEST_CASE("what the laboratory states takes the place of what was seen or taken by default") {
  SetupConditions conditions = known_room();
  conditions.stated.repeatability = 1e-3;
  conditions.stated.field = 2e-3;
  conditions.stated.x_y_difference = 3e-3;
  conditions.stated.refocusing = 4e-3;
  conditions.stated.slope = radians_from_degrees(5.0);
  const SetupCalibration setup = calibrate_setup(std::vector{shot_at(500)}, certified_scale(), conditions);
  const double f = setup.um_per_pixel.value;
  CHECK(within(line_of(setup, "repeatability").contribution, 1e-3 * f, 1e-12));
  CHECK(within(line_of(setup, "field").contribution, 2e-3 * f / std::sqrt(3.0), 1e-12));
  CHECK(within(line_of(setup, "x-y difference").contribution, 3e-3 * f / std::sqrt(3.0), 1e-12));
  CHECK(within(line_of(setup, "refocusing").contribution, 4e-3 * f / std::sqrt(3.0), 1e-12));
  const double limit = radians_from_degrees(5.0).value;
  CHECK(within(line_of(setup, "slope of the slide").contribution, f * limit * limit / std::sqrt(45.0), 1e-12));
  CHECK(setup.budget_complete);
}

TEST_CASE("a slope makes a factor too large only, so its mean is taken out and what scatters about it stays") {
  // Slides laid at every angle within 3 degrees: each shows cos(theta) of its lengths.
  const double limit = radians_from_degrees(3.0).value;
  SetupConditions conditions = known_room();
  conditions.stated.slope = Radians{limit};
  constexpr int kAngles = 2000;
  double mean = 0.0, squares = 0.0, stated = 0.0;
  for (int i = 0; i < kAngles; ++i) {
    const double seen = 0.69 / std::cos(limit * ((i + 0.5) / kAngles * 2.0 - 1.0));
    if (i % 100 == 0) {  // the correction is the same factor for each of them
      const SetupCalibration setup = calibrate_setup(std::vector{shot_at(500, seen)}, certified_scale(), conditions);
      stated = line_of(setup, "slope of the slide").contribution / 0.69;
      CHECK(within(setup.um_per_pixel.value / seen, std::sin(limit) / limit, 1e-9));
    }
    const double error = seen * std::sin(limit) / limit / 0.69 - 1.0;
    mean += error / kAngles, squares += error * error / kAngles;
  }
  CHECK(std::abs(mean) < 0.01 * stated);
  CHECK(within(std::sqrt(squares), stated, 0.02 * stated));
  // Uncorrected the mean alone would be more than what is stated: limit^2 / 6 against limit^2 / sqrt(45).
  CHECK(limit * limit / 6.0 > stated);
}

TEST_CASE("shots with the scale moved by several divisions tell distortion from graduation errors") {
  // Errors of 0.3 um that belong to the slide, a distortion of 0.3 % that belongs to the optics.
  const auto position = [](int n) { return 10.0 * n + 0.3 * std::sin(2.3 * n); };
  const auto take = [&](double centre, double kappa) {
    DrawnShot shot;
    shot.um_per_pixel = 0.69;
    shot.centre_um = centre;
    shot.kappa = kappa;
    shot.position_um = position;
    Shot taken = drawn(shot, "at " + std::to_string(centre));
    taken.hints.centre = Micrometres{centre};
    return taken;
  };
  const auto setup_of = [&](double kappa) {
    return calibrate_setup(std::vector{take(500, kappa), take(560, kappa), take(430, kappa)}, certified_scale(),
                           known_room());
  };
  const SetupCalibration bent = setup_of(0.003);
  REQUIRE_MESSAGE(bent.separation.done, bent.separation.reason);
  CHECK(bent.separation.significant);
  CHECK(within(bent.separation.kappa, 0.003, 3.0 * bent.separation.kappa_uncertainty + 3e-5));
  CHECK(bent.separation.kappa_uncertainty < 3e-4);
  CHECK(within(bent.separation.graduations_rms_um, 0.3 / std::sqrt(2.0), 0.05));
  // Mean over the whole field: 1 / (1 + kappa (h_x^2 + h_y^2 / 3) / R^2), h half the sides.
  const double h2 = (639.5 * 639.5 + 479.5 * 479.5 / 3.0) / (800.0 * 800.0);
  CHECK(within(bent.um_per_pixel.value, 0.69 / (1.0 + 0.003 * h2), 0.69 * 1.5e-4));
  CHECK_FALSE(setup_of(0.0).separation.significant);
  // A reading that found the bend by itself has the pitch from end to end. Of s^3 that is h^2, a line's slope 3/5 h^2.
  const auto bent_pitch = [](Shot shot) {
    Ruling& ruling = shot.reading.rulings[0];
    const double half = 0.5 * (ruling.graduations.back().position_px - ruling.graduations.front().position_px);
    ruling.pitch_px *= 1.0 + 0.4 * 0.003 * half * half / (800.0 * 800.0);
    ruling.nonlinearity = {0.0, -0.5, 0.0, 0.8};
    return shot;
  };
  const SetupCalibration told = calibrate_setup(
      std::vector{bent_pitch(take(500, 0.003)), bent_pitch(take(560, 0.003)), bent_pitch(take(430, 0.003))},
      certified_scale(), known_room());
  CHECK(within(told.um_per_pixel.value, 0.69 / (1.0 + 0.003 * h2), 0.69 * 1.5e-4));
}

// A slide with errors of its own, 0.3 um, under optics with a distortion.
Shot bent_shot(double centre_um, double kappa, double angle_deg, double phase = 0.0) {
  DrawnShot shot;
  shot.centre_um = centre_um;
  shot.kappa = kappa;
  shot.angle_deg = angle_deg;
  shot.position_um = [phase](int n) { return 10.0 * n + 0.3 * std::sin(2.3 * n + phase); };
  Shot taken = drawn(shot, "at " + std::to_string(static_cast<int>(centre_um)));
  taken.hints.centre = Micrometres{centre_um};
  taken.hints.numbers_run = angle_deg == 0.0 ? NumbersRun::right : NumbersRun::down;
  return taken;
}

// Two scales across each other on one slide; what lies in the middle, and the direction of numbering, hold for both.
Shot crossed_shot(double centre_um, double kappa) {
  Shot shot = bent_shot(centre_um, kappa, 0.0);
  shot.reading.rulings.push_back(bent_shot(centre_um, kappa, 90.0, 1.0).reading.rulings.front());
  shot.hints.numbers_run = NumbersRun::unknown;  // by the free ends
  return shot;
}

TEST_CASE("a scale laid both ways tells distortion from graduation errors along both axes at once") {
  const auto setup_of = [](double kappa, double upright_um) {
    return calibrate_setup(std::vector{bent_shot(500, kappa, 0.0), bent_shot(upright_um, kappa, 90.0)},
                           certified_scale(), known_room());
  };
  // One shot along x and one along y, moved against each other: the graduations are the same.
  const SetupCalibration bent = setup_of(0.003, 560);
  REQUIRE_MESSAGE(bent.separation.done, bent.separation.reason);
  CHECK(bent.separation.shots == 2);
  CHECK(bent.separation.significant);
  CHECK(within(bent.separation.kappa, 0.003, 3.0 * bent.separation.kappa_uncertainty + 3e-5));
  CHECK(within(bent.separation.graduations_rms_um, 0.3 / std::sqrt(2.0), 0.05));
  // At the end of the longer side, whichever way the scale lay: 0.4 kappa h^3 / R^2.
  CHECK(within(bent.separation.optics_max_um, 0.69 * 0.4 * 0.003 * std::pow(639.5, 3) / (800.0 * 800.0), 0.05));
  CHECK_FALSE(setup_of(0.0, 560).separation.significant);
  CHECK_FALSE(setup_of(0.003, 505).separation.done);
}

TEST_CASE("scales crossed in one picture have graduations of their own, and the same optics over both") {
  const std::vector<Shot> shots = {crossed_shot(500, 0.003), crossed_shot(560, 0.003), crossed_shot(430, 0.003)};
  const SetupCalibration both = calibrate_setup(shots, certified_scale(), known_room());
  REQUIRE_MESSAGE(both.separation.done, both.separation.reason);
  CHECK(both.separation.shots == 3);
  CHECK(both.separation.significant);
  CHECK(within(both.separation.kappa, 0.003, 3.0 * both.separation.kappa_uncertainty + 3e-5));
  CHECK(within(both.separation.graduations_rms_um, 0.3 / std::sqrt(2.0), 0.05));
  // Both together know it better than the scale along x does alone.
  std::vector<Shot> along_x = shots;
  for (Shot& shot : along_x) shot.reading.rulings.resize(1);
  const SetupCalibration one = calibrate_setup(along_x, certified_scale(), known_room());
  CHECK(both.separation.kappa_uncertainty < one.separation.kappa_uncertainty);
  // A direction in which the scale was not moved says nothing.
  std::vector<Shot> unmoved = along_x;
  unmoved[0] = shots[0];
  const SetupCalibration moved_along_x = calibrate_setup(unmoved, certified_scale(), known_room());
  CHECK(within(moved_along_x.separation.kappa_uncertainty, one.separation.kappa_uncertainty, 1e-9));
}

TEST_CASE("the factor is the mean over the measuring area, wherever in the field it lies") {
  SetupConditions conditions = known_room();
  conditions.measuring_area = MeasuringArea{900.0, 600.0, 300.0, 200.0};
  const double kappa = 0.003;
  const SetupCalibration setup =
      calibrate_setup(std::vector{bent_shot(500, kappa, 0.0), bent_shot(560, kappa, 0.0), bent_shot(430, kappa, 0.0)},
                      certified_scale(), conditions);
  REQUIRE(setup.separation.significant);
  // The local stretch along x, 1 + kappa (3 s^2 + v^2) / R^2, averaged place by place.
  double stretch = 0.0;
  constexpr int kPlaces = 100;
  for (int i = 0; i < kPlaces; ++i)
    for (int j = 0; j < kPlaces; ++j) {
      const double s = 900.0 + 300.0 * (i + 0.5) / kPlaces - 639.5, v = 600.0 + 200.0 * (j + 0.5) / kPlaces - 479.5;
      stretch += (1.0 + kappa * (3.0 * s * s + v * v) / (800.0 * 800.0)) / (kPlaces * kPlaces);
    }
  CHECK(within(setup.um_per_pixel.value, 0.69 / stretch, 0.69 * 1.5e-4));
}

TEST_CASE("what is not known of the distortion is in the field's part, whether it was believed or not") {
  // Errors of the mean over the whole field, of slides and distortions drawn at random, against that part alone.
  int held = 0;
  double squares = 0.0;
  constexpr int kRooms = 200;
  for (int i = 0; i < kRooms; ++i) {
    const double kappa = 1e-4 * std::sin(1.7 * i);
    std::vector<Shot> shots;
    for (const double centre : {500.0, 530.0, 480.0}) {
      DrawnShot shot;
      shot.centre_um = centre, shot.kappa = kappa;
      shot.position_um = [i](int n) { return 10.0 * n + 0.02 * std::sin(2.3 * n + 0.37 * n * n + 1.3 * i); };
      shot.noise = [i, centre](int n) {
        return 0.004 * std::sqrt(2.0) * std::sin(1.1 * n * n + 0.7 * centre + 2.9 * i);
      };
      shots.push_back(drawn(shot));
      shots.back().hints.centre = Micrometres{centre};
    }
    const SetupCalibration setup = calibrate_setup(shots, certified_scale(), known_room());
    REQUIRE(setup.separation.done);
    const double h2 = (639.5 * 639.5 + 479.5 * 479.5 / 3.0) / (800.0 * 800.0);
    const double error = setup.um_per_pixel.value * (1.0 + kappa * h2) / 0.69 - 1.0;
    const double field = line_of(setup, "field").contribution / 0.69;
    const double rest =
        std::hypot(line_of(setup, "fit").contribution, line_of(setup, "graduation errors").contribution) / 0.69;
    squares += std::pow(error / std::hypot(field, rest), 2) / kRooms;
    if (std::abs(error) <= 2.0 * std::hypot(field, rest)) ++held;
  }
  CAPTURE(std::sqrt(squares));
  CHECK(held >= 0.93 * kRooms);
  CHECK(std::sqrt(squares) > 0.3);
}

TEST_CASE("a magnification that changes from shot to shot, as by slope or focus, is not taken for distortion") {
  const auto take = [](double centre, double factor) {
    DrawnShot shot;
    shot.um_per_pixel = factor;
    shot.centre_um = centre;
    shot.position_um = [](int n) { return 10.0 * n + 0.03 * std::sin(2.3 * n); };
    Shot taken = drawn(shot);
    taken.hints.centre = Micrometres{centre};
    return taken;
  };
  const SetupCalibration setup = calibrate_setup(std::vector{take(500, 0.69), take(560, 0.6901), take(430, 0.68995)},
                                                 certified_scale(), known_room());
  REQUIRE_MESSAGE(setup.separation.done, setup.separation.reason);
  CHECK_FALSE(setup.separation.significant);
  CHECK(std::abs(setup.separation.kappa) < 5e-5);
}

TEST_CASE("shots that were not moved cannot tell, and the reason is given") {
  const SetupCalibration setup =
      calibrate_setup(std::vector{shot_at(30), shot_at(35)}, certified_scale(), known_room());
  CHECK_FALSE(setup.separation.done);
  CHECK(setup.separation.reason.find("two divisions") != std::string::npos);
}

TEST_CASE("shots without numbers cannot tell either, and what is missing is named") {
  ReferenceScale scale = certified_scale();
  scale.free_ends = FreeEnds::unknown;
  scale.corrections.clear();
  const SetupCalibration setup = calibrate_setup(std::vector{shot_at(480), shot_at(530)}, scale, known_room());
  CHECK_FALSE(setup.separation.done);
  CHECK(setup.separation.reason.find("those of at 480 are not: ") != std::string::npos);
  CHECK(setup.separation.reason.find("numbers_run") != std::string::npos);
}

TEST_CASE("sampling the model agrees with the budget") {
  // Five free values of the scatter; with one alone Student's t has no mean.
  const std::vector<Shot> shots = {shot_at(480, 0.69),         shot_at(500, 0.69002),      shot_at(490, 0.69001),
                                   shot_at(500, 0.6903, 90.0), shot_at(480, 0.6903, 90.0), shot_at(490, 0.6903, 90.0),
                                   shot_at(520, 0.69)};
  const SetupCalibration setup = calibrate_setup(shots, certified_scale(), known_room());
  const MonteCarlo sampled = propagate(setup, 20.0, 200000, 1);
  CHECK(within(sampled.mean, setup.um_per_pixel.value, 0.1 * setup.um_per_pixel.expanded_uncertainty));
  const double half = 0.5 * (sampled.high - sampled.low);
  CHECK(within(half, setup.um_per_pixel.expanded_uncertainty, 0.15 * setup.um_per_pixel.expanded_uncertainty));
}

TEST_CASE("no shot, or a shot without a ruling, is the caller's mistake") {
  CHECK_THROWS_AS(calibrate_setup({}, certified_scale(), known_room()), std::invalid_argument);
  CHECK_THROWS_AS(calibrate_setup(std::vector<Shot>(1), certified_scale(), known_room()), std::invalid_argument);
}
