#include "layout.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace micrograph {
namespace {

struct Size {
  int width, height;
};

constexpr std::array kSizes = {Size{1280, 960},  Size{1280, 960},  Size{1024, 768}, Size{640, 480},  Size{800, 600},
                               Size{1600, 1200}, Size{1280, 1024}, Size{960, 1280}, Size{768, 1024}, Size{1001, 757},
                               Size{1233, 819},  Size{1200, 1200}, Size{1440, 900}};

void set_lengths(LineScale& scale, double longest, Random& random) {
  scale.long_px = longest;
  scale.medium_px = longest * random.uniform(0.68, 0.85);
  scale.short_px = longest * random.uniform(0.4, 0.6);
  constexpr std::array kLevels = {Levels::fifth_and_tenth, Levels::fifth_and_tenth, Levels::second_and_tenth,
                                  Levels::all_equal};
  scale.levels = kLevels[static_cast<std::size_t>(random.integer(0, 3))];
}

}  // namespace

double chord_px(const Scene& scene, double angle_deg) {
  const double angle = angle_deg * std::numbers::pi / 180.0;
  const double c = std::max(1e-9, std::abs(std::cos(angle)));
  const double s = std::max(1e-9, std::abs(std::sin(angle)));
  return std::min(scene.width / c, scene.height / s);
}

void lay(const Scene& scene, LineScale& scale, int least_in_view, bool whole, double across, Random& random) {
  const double angle = scale.angle_deg * std::numbers::pi / 180.0;
  const double chord = chord_px(scene, scale.angle_deg);
  const int fitting = std::max(least_in_view, static_cast<int>(chord / scale.pitch_px));
  double start = 0.0;  // of graduation 0, along the scale from the frame's middle
  if (whole || random.chance(0.3)) {
    scale.count = random.integer(std::min(least_in_view, fitting - 1), std::max(least_in_view, fitting - 1));
    const double room = std::max(0.0, chord - (scale.count - 0.2) * scale.pitch_px);
    start = -0.5 * (scale.count - 1) * scale.pitch_px + room * random.uniform(-0.35, 0.35);
  } else {
    const int before = random.integer(0, 40);
    scale.count = before + fitting + random.integer(3, 40);
    start = -0.5 * chord - (before + random.uniform()) * scale.pitch_px;
  }
  const double v = across - (scale.two_sided ? 0.0 : 0.5 * scale.short_px);
  scale.origin_x = 0.5 * (scene.width - 1) + start * std::cos(angle) - v * std::sin(angle);
  scale.origin_y = 0.5 * (scene.height - 1) + start * std::sin(angle) + v * std::cos(angle);
}

Scene tidy_scene(const Tidy& tidy, Random& random) {
  Scene scene;
  const Size size = kSizes[static_cast<std::size_t>(random.integer(0, kSizes.size() - 1))];
  scene.width = size.width;
  scene.height = size.height;
  scene.ground.level = random.uniform(0.55, 0.88);
  scene.ground.contrast = random.uniform(0.4, 0.92);
  scene.sensor.read_noise = random.log_uniform(0.6, 3.0);
  LineScale scale;
  scale.angle_deg = tidy.angle_deg;
  const double chord = chord_px(scene, tidy.angle_deg);
  const double widest = std::min(tidy.pitch_high, chord / (tidy.least_in_view + 0.5));
  scale.pitch_px = random.log_uniform(std::min(tidy.pitch_low, widest), widest);
  scale.line_width_px = std::max(0.9, scale.pitch_px * random.log_uniform(0.08, 0.5));
  scale.line_width_px = std::min(scale.line_width_px, 0.5 * scale.pitch_px);
  const double across = chord_px(scene, tidy.angle_deg + 90.0);
  scale.two_sided = random.chance(0.4);
  set_lengths(scale, across * random.uniform(0.25, 0.7), random);
  if (random.chance(0.4)) scale.base_line_px = scale.line_width_px * random.uniform(0.6, 1.2);
  scene.optics.gaussian_px = std::min(random.uniform(0.5, 1.6), 0.22 * scale.pitch_px);
  lay(scene, scale, tidy.least_in_view, tidy.whole, across * random.uniform(-0.12, 0.12), random);
  scene.scales.push_back(scale);
  return scene;
}

}  // namespace micrograph
