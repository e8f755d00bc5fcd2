#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "makers.h"

namespace micrograph {
namespace {

/// The smallest distance the blur must leave apart.
double finest(const Scene& scene) {
  double least = 1e9;
  for (const LineScale& scale : scene.scales) {
    least = std::min(least, scale.pitch_px);
    if (scale.pair_offset_px > 0.0) least = std::min(least, 1.4 * scale.pair_offset_px);
  }
  return scene.scales.empty() ? 20.0 : least;
}

/// A cast that leaves the luminance's mean magnification as it is: the greens' stands still, red's and blue's changes
/// cancel in 0.299 R + 0.587 G + 0.114 B.
void set_lateral(Scene& scene, double red) {
  scene.geometry.lateral_red = red;
  scene.geometry.lateral_blue = -red * 0.299 * scene.colour.red / (0.114 * scene.colour.blue);
}

void set_cast(Scene& scene, Random& random) {
  scene.colour.channels = 3;
  scene.colour.red = random.uniform(0.6, 1.1);
  scene.colour.green = random.uniform(0.75, 1.1);
  scene.colour.blue = random.uniform(0.5, 1.1);
}

}  // namespace

void weather(Scene& scene, Random& random) {
  if (random.chance(0.35)) {
    scene.shading.linear_x = 0.06 * random.normal();
    scene.shading.linear_y = 0.06 * random.normal();
    scene.shading.quadratic = random.uniform(-0.12, 0.02);
  }
  if (random.chance(0.25)) scene.clutter.dirt = random.integer(1, 6);
}

void bright_on_dark(Scene& scene, Random& random) {
  scene.ground.polarity = Polarity::bright_on_dark;
  scene.ground.contrast = random.uniform(0.6, 0.97);
}

void defocus_gaussian(Scene& scene, Random& random) {
  scene.optics.gaussian_px = std::min(random.uniform(2.0, 9.0), finest(scene) * random.uniform(0.17, 0.27));
}

void defocus_disc(Scene& scene, Random& random) {
  scene.optics.disc_px = std::min(random.uniform(2.0, 14.0), finest(scene) * random.uniform(0.2, 0.38));
  scene.optics.gaussian_px = std::max(0.3, std::min({scene.optics.gaussian_px, 0.12 * finest(scene)}));
}

void relief(Scene& scene, Random& random) {
  const double strength = 2.5 * scene.optics.gaussian_px * random.uniform(0.3, 0.95);
  scene.optics.relief_px = strength * random.sign();
  scene.optics.relief_angle_deg =
      scene.scales.empty() ? 0.0 : scene.scales.front().angle_deg + random.uniform(-50.0, 50.0);
  scene.ground.level = random.uniform(0.45, 0.6);
  scene.ground.contrast = random.uniform(0.3, 0.6);
}

void shade(Scene& scene, Random& random) {
  scene.shading.linear_x = random.uniform(-0.3, 0.3);
  scene.shading.linear_y = random.uniform(-0.3, 0.3);
  scene.shading.quadratic = random.uniform(-0.35, 0.1);
  scene.shading.quadratic_xy = random.uniform(-0.1, 0.1);
  scene.shading.vignette = random.uniform(0.0, 0.4);
  scene.shading.mottle = random.uniform(0.0, 0.04);
  scene.shading.mottle_px = random.uniform(120.0, 400.0);
  scene.ground.level = random.uniform(0.4, 0.62);
}

void round_field(Scene& scene, Random& random) {
  const double size = std::min(scene.width, scene.height);
  scene.field.on = true;
  scene.field.radius_px = size * random.uniform(0.42, 0.62);
  scene.field.x = 0.5 * scene.width + 0.06 * size * random.uniform(-1.0, 1.0);
  scene.field.y = 0.5 * scene.height + 0.06 * size * random.uniform(-1.0, 1.0);
  scene.field.softness_px = random.log_uniform(0.8, 12.0);
  scene.field.outside = random.uniform(0.0, 0.08);
  if (random.chance(0.5)) scene.shading.vignette = random.uniform(0.1, 0.5);
}

void ring(Scene& scene, Random& random) {
  const LineScale& scale = scene.scales.front();
  const double along = 0.5 * (scale.count - 1) * scale.pitch_px;
  const double across = scale.two_sided ? 0.0 : 0.5 * scale.long_px;
  const double angle = scale.angle_deg * std::numbers::pi / 180.0;
  scene.ring.x = scale.origin_x + along * std::cos(angle) - across * std::sin(angle);
  scene.ring.y = scale.origin_y + along * std::sin(angle) + across * std::cos(angle);
  scene.ring.radius_px = std::hypot(along, 0.5 * scale.long_px) * random.uniform(1.03, 1.3);
  scene.ring.width_px = random.log_uniform(2.0, 40.0);
  scene.ring.amplitude = random.chance(0.6) ? random.uniform(0.5, 1.0) : random.uniform(-0.35, -0.1);
}

void noisy(Scene& scene, Random& random) { scene.sensor.read_noise = random.log_uniform(5.0, 25.0); }

void poisson(Scene& scene, Random& random) {
  scene.sensor.full_well = random.log_uniform(150.0, 6000.0);
  scene.sensor.read_noise = random.log_uniform(0.3, 1.5);
}

void saturate(Scene& scene, Random& random) {
  scene.sensor.exposure = random.uniform(1.0, 1.7) / scene.ground.level;
  scene.sensor.pedestal = random.chance(0.5) ? -random.uniform(0.0, 0.15) : 0.0;
  scene.shading.linear_x = random.uniform(-0.15, 0.15);
}

void gamma_curve(Scene& scene, Random& random) {
  scene.sensor.gamma = random.chance(0.7) ? random.uniform(1.4, 2.6) : random.uniform(0.45, 0.8);
}

void deep_bits(Scene& scene, Random& random) {
  constexpr std::array<int, 4> kDepths = {10, 12, 14, 16};
  scene.sensor.bits = kDepths[static_cast<std::size_t>(random.integer(0, 3))];
  scene.sensor.full_well = random.log_uniform(3000.0, 60000.0);
  scene.sensor.read_noise = random.log_uniform(0.05, 0.6);
  if (random.chance(0.3)) scene.ground.level = random.uniform(0.05, 0.3);  // dim pictures are common here
}

void jpeg_high(Scene& scene, Random& random) { scene.sensor.jpeg_quality = random.integer(85, 98); }
void jpeg_mid(Scene& scene, Random& random) { scene.sensor.jpeg_quality = random.integer(60, 85); }
void jpeg_low(Scene& scene, Random& random) { scene.sensor.jpeg_quality = random.integer(25, 60); }

void mosaic(Scene& scene, Random& random) {
  set_cast(scene, random);
  scene.colour.mosaic = true;
}

void sharpened(Scene& scene, Random& random) {
  scene.sensor.sharpen = random.uniform(0.4, 2.2);
  scene.sensor.sharpen_px = random.uniform(0.7, 2.5);
}

void resampled(Scene& scene, Random& random) {
  const double least = std::max(0.4, 3.0 / finest(scene));
  scene.sensor.resample = random.chance(0.6) ? random.uniform(least, std::max(least, 0.92)) : random.uniform(1.08, 1.9);
}

void motion(Scene& scene, Random& random) {
  scene.optics.motion_px = std::min(random.uniform(2.0, 12.0), finest(scene) * random.uniform(0.15, 0.55));
  scene.optics.motion_angle_deg = random.uniform(-90.0, 90.0);
}

void colour(Scene& scene, Random& random) {
  set_cast(scene, random);
  const double corner = 0.5 * std::hypot(scene.width, scene.height);
  set_lateral(scene, random.uniform(-0.6, 0.6) / corner);  // up to 0.6 px in the corner for red
}

void dirt_and_scratches(Scene& scene, Random& random) {
  scene.clutter.dirt = random.integer(8, 70);
  scene.clutter.scratches = random.integer(1, 9);
  scene.clutter.fibres = random.integer(0, 3);
  scene.clutter.strength = random.uniform(0.4, 1.0);
}

void text_and_bars(Scene& scene, Random& random) {
  scene.clutter.texts = random.integer(1, 4);
  scene.clutter.bars = random.integer(1, 3);
}

void distort(Scene& scene, Random& random) {
  scene.geometry.distortion = random.sign() * random.log_uniform(0.001, 0.03);
}

void tilt_in_depth(Scene& scene, Random& random) {
  scene.geometry.tilt_x = random.uniform(-0.025, 0.025);
  scene.geometry.tilt_y = random.uniform(-0.025, 0.025);
  scene.optics.focus_gradient = std::min(random.uniform(0.5, 4.0), 0.2 * finest(scene));
  scene.optics.focus_angle_deg = std::atan2(scene.geometry.tilt_y, scene.geometry.tilt_x) * 180.0 / std::numbers::pi;
}

void unequal_xy(Scene& scene, Random& random) {
  scene.geometry.magnification_x = 1.0 + random.uniform(-0.03, 0.03);
  scene.geometry.magnification_y = 1.0 + random.uniform(-0.03, 0.03);
}

void focus_gradient(Scene& scene, Random& random) {
  scene.optics.focus_gradient = std::min(random.uniform(1.0, 6.0), 0.25 * finest(scene));
  scene.optics.focus_angle_deg = random.uniform(-180.0, 180.0);
}

void too_blurred(Scene& scene, Random& random) { scene.optics.gaussian_px = finest(scene) * random.uniform(0.5, 0.9); }

Scene make_everything(Random& random) {
  constexpr std::array<Change, 22> kChanges = {bright_on_dark,
                                               defocus_gaussian,
                                               defocus_disc,
                                               relief,
                                               shade,
                                               round_field,
                                               noisy,
                                               poisson,
                                               saturate,
                                               gamma_curve,
                                               deep_bits,
                                               jpeg_high,
                                               jpeg_mid,
                                               mosaic,
                                               sharpened,
                                               resampled,
                                               motion,
                                               colour,
                                               dirt_and_scratches,
                                               text_and_bars,
                                               unequal_xy,
                                               focus_gradient};
  using Make = Scene (*)(Random&);
  constexpr std::array<Make, 9> kMakers = {make_tidy,         make_any_angle,   make_two_sided, make_one_sided_numerals,
                                           make_partial_view, make_square_grid, make_crossed,   make_missing_and_broken,
                                           make_uneven_lines};
  Scene scene = kMakers[static_cast<std::size_t>(random.integer(0, 8))](random);
  const int changes = random.integer(3, 7);
  for (int i = 0; i < changes; ++i) kChanges[static_cast<std::size_t>(random.integer(0, 21))](scene, random);
  weather(scene, random);
  if (random.chance(0.25)) distort(scene, random);
  if (scene.sensor.bits > 8) scene.sensor.jpeg_quality = 0;
  const double blur = std::hypot(scene.optics.gaussian_px, 0.5 * scene.optics.disc_px, 0.29 * scene.optics.motion_px);
  const double most = 0.25 * finest(scene);
  if (blur > most) {
    scene.optics.gaussian_px = std::max(0.3, scene.optics.gaussian_px * most / blur);
    scene.optics.disc_px *= most / blur;
    scene.optics.motion_px *= most / blur;
  }
  return scene;
}

}  // namespace micrograph
