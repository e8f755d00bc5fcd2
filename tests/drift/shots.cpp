#include "drift/shots.h"

#include <micrograph/random.h>
#include <micrograph/render.h>
#include <scale/control_chart.h>
#include <scale/drift.h>

#include <cmath>
#include <limits>

#include "support/grey_picture.h"

namespace drift_test {
namespace {

using micrograph::Random;

constexpr int kWidth = 640, kHeight = 400;
constexpr double kDivisionUm = 10.0, kGlass = 9.1e-6, kRoom = 21.0, kRoomLimits = 2.0;

struct Truth {
  double factor = 0.0, certificate_error = 0.0, expansion = 0.0, repeatability = 0.0;
};

// What is drawn anew for every slide that is laid down.
struct Mount {
  double centre_um = 0.0, angle_deg = 0.0, temperature = 0.0, slope = 0.0, remounting = 0.0;
  std::uint64_t seed = 0;
  double blur = 1.0, across = 0.0;
};

Mount draw_mount(Random& random, const Truth& truth) {
  Mount mount;
  mount.centre_um = 500.0 + random.uniform(-20.0, 20.0);
  mount.angle_deg = random.uniform(-2.0, 2.0);
  mount.temperature = kRoom + random.uniform(-kRoomLimits, kRoomLimits);
  mount.slope = random.uniform(-1.0, 1.0) * std::acos(-1.0) / 180.0;
  mount.remounting = truth.repeatability * random.normal();
  mount.seed = random.bits();
  mount.blur = random.uniform(0.8, 1.5);
  mount.across = random.uniform(-40.0, 40.0);
  return mount;
}

micrograph::Scene scene_of(const Truth& truth, const Mount& mount, double change) {
  const double grown = 1.0 + truth.certificate_error + truth.expansion * (mount.temperature - 20.0);
  const double px = std::cos(mount.slope) * grown * (1.0 + mount.remounting) / (truth.factor * (1.0 + change));
  micrograph::Scene scene;
  scene.width = kWidth, scene.height = kHeight;
  scene.seed = mount.seed;
  micrograph::LineScale scale;
  scale.angle_deg = mount.angle_deg;
  scale.pitch_px = kDivisionUm * px;
  scale.count = 101;
  scale.line_width_px = std::max(2.0, 2.5 * px);
  scale.short_px = 60.0, scale.medium_px = 90.0, scale.long_px = 120.0;
  const double turn = mount.angle_deg * std::acos(-1.0) / 180.0, along = mount.centre_um * px;
  scale.origin_x = 0.5 * (kWidth - 1) - along * std::cos(turn) - mount.across * std::sin(turn);
  scale.origin_y = 0.5 * (kHeight - 1) - along * std::sin(turn) + mount.across * std::cos(turn);
  scene.scales = {scale};
  scene.optics.gaussian_px = mount.blur;
  scene.sensor.full_well = 8000.0, scene.sensor.read_noise = 1.0;
  return scene;
}

scale::Shot shot_of(const micrograph::Scene& scene) {
  const test_support::GreyPicture picture = test_support::grey_picture(scene);
  scale::Shot shot;
  shot.name = "shot";
  shot.width = picture.width, shot.height = picture.height;
  shot.reading = scale::find_rulings(picture.view());
  return shot;
}

// As the register would give it: the budget line by line, the factor along x.
scale::RegisteredSetup registered(const std::vector<scale::Shot>& shots, const scale::ReferenceScale& reference,
                                  const scale::SetupConditions& conditions, double repeatability) {
  const scale::SetupCalibration found = scale::calibrate_setup(shots, reference, conditions);
  scale::RegisteredSetup own;
  own.name = "set-up";
  own.both = scale::FactorAlong{found.um_per_pixel.value, {}};
  for (const scale::BudgetLine& line : found.budget)
    if (line.stated)
      own.both->parts.push_back(
          {line.input.name, line.contribution / found.um_per_pixel.value, line.input.degrees_of_freedom});
  own.x = own.both;
  own.repeatability = repeatability;
  own.repeatability_freedom = std::numeric_limits<double>::infinity();
  own.size = {kWidth, kHeight};
  return own;
}

}  // namespace

ShotCounts& ShotCounts::operator+=(const ShotCounts& more) {
  unchanged += more.unchanged, accused += more.accused;
  changed += more.changed, found += more.found;
  lost += more.lost, squares += more.squares, alerts += more.alerts;
  return *this;
}

ShotCounts check_shots(std::uint64_t seed, int checks, double uncertainties) {
  Random random(seed, 0xd21f);
  const double expanded_um = random.log_uniform(0.08, 0.4);
  Truth truth;
  truth.factor = random.log_uniform(0.5, 1.2);
  truth.certificate_error = 0.5 * expanded_um / std::min(1000.0, 0.95 * kWidth * truth.factor) * random.normal();
  truth.expansion = kGlass + random.uniform(-0.9e-6, 0.9e-6);
  truth.repeatability = random.log_uniform(1e-4, 5e-4);
  scale::ReferenceScale reference;
  reference.division = {kDivisionUm};
  reference.uncertainty = scale::CertifiedUncertainty{{expanded_um}, 0.0, 2.0};
  reference.expansion = scale::Expansion{kGlass, 0.9e-6};
  scale::SetupConditions conditions;
  conditions.room = scale::RoomTemperature{kRoom, kRoomLimits};
  conditions.refocused_between_shots = true;
  conditions.stated.repeatability = truth.repeatability;
  ShotCounts counts;
  std::vector<scale::Shot> shots;
  while (shots.size() < 4) {
    scale::Shot shot = shot_of(scene_of(truth, draw_mount(random, truth), 0.0));
    if (!shot.reading.rulings.empty()) shots.push_back(std::move(shot));
  }
  const scale::RegisteredSetup own = registered(shots, reference, conditions, truth.repeatability);
  const std::vector<scale::RegisteredSetup> all = {own};
  std::vector<double> changes;
  double variance = 0.0, common = 0.0;
  for (int i = 0; i < checks; ++i) {
    const Mount mount = draw_mount(random, truth);
    const scale::Shot same = shot_of(scene_of(truth, mount, 0.0));
    if (same.reading.rulings.empty()) {
      ++counts.lost;
      continue;
    }
    const scale::Judgement judged = scale::judge_shot(same, reference, conditions, own, true, all);
    const scale::ScaleComparison& c = judged.comparisons.front();
    ++counts.unchanged;
    counts.accused += judged.verdict == scale::Verdict::drifted;
    counts.squares += std::pow(c.relative_change / c.standard_uncertainty, 2);
    changes.push_back(c.relative_change);
    variance += std::pow(c.standard_uncertainty, 2);
    common += std::pow(c.registered_uncertainty, 2);
    const double change = random.sign() * uncertainties * c.standard_uncertainty;
    const scale::Shot moved = shot_of(scene_of(truth, mount, change));
    if (moved.reading.rulings.empty()) continue;
    ++counts.changed;
    counts.found += scale::judge_shot(moved, reference, conditions, own, true, all).verdict == scale::Verdict::drifted;
  }
  const auto count = static_cast<double>(changes.size());
  const scale::ControlChart chart =
      scale::control_chart(changes, {0.0, std::sqrt(variance / count), std::sqrt(common / count)});
  counts.alerts = chart.first_alert() ? 1 : 0;
  return counts;
}

}  // namespace drift_test
