#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "makers.h"

namespace micrograph {
namespace {

double radians(double degrees) { return degrees * std::numbers::pi / 180.0; }

/// Puts graduation 0 at a place given along and across the scale from the middle of the frame.
void put_zero(const Scene& scene, LineScale& scale, double along, double across) {
  const double angle = radians(scale.angle_deg);
  scale.origin_x = 0.5 * (scene.width - 1) + along * std::cos(angle) - across * std::sin(angle);
  scale.origin_y = 0.5 * (scene.height - 1) + along * std::sin(angle) + across * std::cos(angle);
}

void centre_whole(const Scene& scene, LineScale& scale) {
  put_zero(scene, scale, -0.5 * (scale.count - 1) * scale.pitch_px, scale.two_sided ? 0.0 : -0.5 * scale.short_px);
}

}  // namespace

double any_angle(Random& random) { return random.uniform(-90.0, 90.0); }

double usual_angle(Random& random) {
  const double off = 2.5 * random.normal();
  if (random.chance(0.75)) return off;
  return off > 0.0 ? 90.0 - off : -90.0 - off;
}

Scene usual_scene(Random& random) {
  Tidy tidy;
  tidy.angle_deg = usual_angle(random);
  return tidy_scene(tidy, random);
}

Scene turned_scene(Random& random) {
  Tidy tidy;
  tidy.angle_deg = any_angle(random);
  return tidy_scene(tidy, random);
}

Scene make_tidy(Random& random) { return usual_scene(random); }
Scene make_any_angle(Random& random) { return turned_scene(random); }

Scene make_tidy_small_pitch(Random& random) { return tidy_scene({usual_angle(random), 3.0, 8.0, 20, false}, random); }

Scene make_partial_view(Random& random) {
  Scene scene = turned_scene(random);
  LineScale& scale = scene.scales.front();
  const double chord = chord_px(scene, scale.angle_deg);
  const double across = chord_px(scene, scale.angle_deg + 90.0);
  scale.count = static_cast<int>(chord / scale.pitch_px) + random.integer(5, 60);
  const double most = std::max(0.0, chord - 7.0 * scale.pitch_px);
  const double empty = random.uniform(0.05, 0.55) * most;  // of the chord, before graduation 0
  put_zero(scene, scale, -0.5 * chord + empty, random.uniform(-0.35, 0.2) * across);
  return scene;
}

Scene make_two_sided(Random& random) {
  Scene scene = turned_scene(random);
  LineScale& scale = scene.scales.front();
  scale.two_sided = true;
  scale.base_line_px = scale.line_width_px * random.uniform(0.6, 1.3);
  lay(scene, scale, 6, random.chance(0.5), 0.0, random);
  return scene;
}

Scene make_one_sided_numerals(Random& random) {
  constexpr int kTwoNumerals = 14;  // in view at least, so that one numeral shows at any shift and mostly two
  Scene scene = tidy_scene({any_angle(random), 7.0, 60.0, kTwoNumerals, false}, random);
  LineScale& scale = scene.scales.front();
  scale.two_sided = false;
  scale.base_line_px = random.chance(0.6) ? scale.line_width_px : 0.0;
  const double across = chord_px(scene, scale.angle_deg + 90.0);
  scale.numeral_px = std::clamp(random.uniform(1.0, 3.0) * scale.pitch_px, 10.0, 0.1 * across);
  const double longest = across * random.uniform(0.15, 0.4);
  scale.medium_px *= longest / scale.long_px;
  scale.short_px *= longest / scale.long_px;
  scale.long_px = longest;
  lay(scene, scale, kTwoNumerals, random.chance(0.5), -0.1 * across, random);
  return scene;
}

Scene make_fine_first_part(Random& random) {
  Tidy tidy;
  tidy.angle_deg = usual_angle(random);
  tidy.pitch_low = 6.0;
  tidy.pitch_high = 40.0;
  tidy.least_in_view = 24;
  Scene scene = tidy_scene(tidy, random);
  LineScale& scale = scene.scales.front();
  scale.fine_until = 10 * random.integer(1, 3);
  scale.count = random.integer(6, 12) * 10 + 1;
  const double chord = chord_px(scene, scale.angle_deg);
  put_zero(scene, scale, chord * random.uniform(-0.45, -0.3), scale.two_sided ? 0.0 : -0.5 * scale.short_px);
  return scene;
}

Scene make_crossed(Random& random) {
  Scene scene = turned_scene(random);
  LineScale& first = scene.scales.front();
  first.two_sided = true;
  first.base_line_px = random.chance(0.7) ? first.line_width_px : 0.0;
  const double across = chord_px(scene, first.angle_deg + 90.0);
  const double longest = std::min(0.22 * across, first.pitch_px * random.uniform(2.0, 6.0));
  first.medium_px *= longest / first.long_px;
  first.short_px *= longest / first.long_px;
  first.long_px = longest;
  first.count =
      2 * random.integer(3, std::max(3, static_cast<int>(0.5 * chord_px(scene, first.angle_deg) / first.pitch_px))) + 1;
  LineScale second = first;
  second.angle_deg = first.angle_deg > 0.0 ? first.angle_deg - 90.0 : first.angle_deg + 90.0;
  if (random.chance(0.25)) second.pitch_px *= random.chance(0.5) ? 2.0 : 0.5;
  second.line_width_px = std::min(first.line_width_px, 0.5 * second.pitch_px);
  second.count = 2 * random.integer(3, std::max(3, static_cast<int>(0.5 * across / second.pitch_px))) + 1;
  scene.optics.gaussian_px = std::min(scene.optics.gaussian_px, 0.22 * second.pitch_px);
  put_zero(scene, first, -0.5 * (first.count - 1) * first.pitch_px, 0.0);
  put_zero(scene, second, -0.5 * (second.count - 1) * second.pitch_px, 0.0);
  scene.scales.push_back(second);
  return scene;
}

Scene make_square_grid(Random& random) {
  Scene scene = tidy_scene({any_angle(random), 10.0, 140.0, 5, false}, random);
  LineScale& first = scene.scales.front();
  first.levels = Levels::all_equal;
  first.two_sided = true;
  first.base_line_px = 0.0;
  first.line_width_px = std::min(first.line_width_px, 0.3 * first.pitch_px);
  const bool whole = random.chance(0.3);
  const double least = std::min(scene.width, scene.height) / first.pitch_px;
  first.count = static_cast<int>(whole ? std::max(6.0, 0.8 * least)
                                       : 3.0 * std::hypot(scene.width, scene.height) / first.pitch_px);
  first.short_px = first.medium_px = first.long_px = (first.count - 1) * first.pitch_px + first.line_width_px;
  LineScale second = first;
  second.angle_deg = first.angle_deg > 0.0 ? first.angle_deg - 90.0 : first.angle_deg + 90.0;
  const double shift = whole ? 0.0 : random.uniform();
  put_zero(scene, first, -0.5 * (first.count - 1 + shift) * first.pitch_px, 0.0);
  put_zero(scene, second, -0.5 * (second.count - 1 + shift) * second.pitch_px, 0.0);
  scene.scales.push_back(second);
  return scene;
}

Scene make_paired_lines(Random& random) {
  Scene scene = tidy_scene({any_angle(random), 16.0, 120.0, 6, false}, random);
  LineScale& scale = scene.scales.front();
  scale.line_width_px = std::clamp(scale.pitch_px * random.uniform(0.06, 0.13), 1.0, 0.15 * scale.pitch_px);
  scale.pair_offset_px = scale.pitch_px * random.uniform(0.22, 0.4);
  scene.optics.gaussian_px = std::min(scene.optics.gaussian_px, 0.3 * scale.pair_offset_px);
  return scene;
}

Scene make_missing_and_broken(Random& random) {
  Scene scene = tidy_scene({usual_angle(random), 8.0, 80.0, 9, false}, random);
  scene.scales.front().missing_probability = random.uniform(0.02, 0.25);
  scene.scales.front().broken_probability = random.uniform(0.1, 0.5);
  return scene;
}

Scene make_graduation_errors(Random& random) {
  Scene scene = turned_scene(random);
  scene.scales.front().error_sd_px = scene.scales.front().pitch_px * random.log_uniform(0.001, 0.02);
  return scene;
}

Scene make_small_scale(Random& random) {
  Scene scene = tidy_scene({any_angle(random), 3.5, 12.0, 12, true}, random);
  LineScale& scale = scene.scales.front();
  const double field = std::min(scene.width, scene.height);
  scale.count = std::max(11, static_cast<int>(field * random.uniform(0.15, 0.35) / scale.pitch_px));
  const double longest = scale.count * scale.pitch_px * random.uniform(0.15, 0.5);
  scale.medium_px *= longest / scale.long_px;
  scale.short_px *= longest / scale.long_px;
  scale.long_px = longest;
  put_zero(scene, scale, field * random.uniform(-0.3, -0.05), field * random.uniform(-0.25, 0.2));
  return scene;
}

Scene make_short_ticks(Random& random) {
  Scene scene = tidy_scene({any_angle(random), 6.0, 60.0, 8, false}, random);
  LineScale& scale = scene.scales.front();
  const double longest = random.uniform(14.0, 34.0);
  scale.medium_px *= longest / scale.long_px;
  scale.short_px *= longest / scale.long_px;
  scale.long_px = longest;
  return scene;
}

Scene make_large_pitch(Random& random) {
  constexpr std::array<int, 4> kWidths = {1600, 2048, 2592, 3840};
  Scene scene = tidy_scene({usual_angle(random), 100.0, 800.0, 4, false}, random);
  scene.width = kWidths[static_cast<std::size_t>(random.chance(0.1) ? 3 : random.integer(0, 2))];
  scene.height = scene.width * 3 / 4;
  LineScale& scale = scene.scales.front();
  const double chord = chord_px(scene, scale.angle_deg);
  const double across = chord_px(scene, scale.angle_deg + 90.0);
  scale.pitch_px = std::min(800.0, chord / random.uniform(4.6, 11.0));
  scale.line_width_px = scale.pitch_px * random.log_uniform(0.05, 0.4);
  scene.optics.gaussian_px = random.log_uniform(0.8, 6.0);
  const double ratio = across * random.uniform(0.3, 0.9) / scale.long_px;
  scale.short_px *= ratio;
  scale.medium_px *= ratio;
  scale.long_px *= ratio;
  if (scale.base_line_px > 0.0) scale.base_line_px = scale.line_width_px;
  lay(scene, scale, 4, false, 0.0, random);
  return scene;
}

Scene make_few_lines(Random& random) {
  Scene scene = usual_scene(random);
  LineScale& scale = scene.scales.front();
  const double chord = chord_px(scene, scale.angle_deg);
  scale.count = random.integer(3, 4);
  scale.pitch_px = chord / (scale.count + random.log_uniform(0.3, 12.0));
  scale.line_width_px = std::max(1.5, scale.pitch_px * random.log_uniform(0.06, 0.4));
  centre_whole(scene, scale);
  return scene;
}

Scene make_uneven_lines(Random& random) {
  Scene scene = turned_scene(random);
  LineScale& scale = scene.scales.front();
  scale.line_width_px = std::min(scale.line_width_px, 0.35 * scale.pitch_px);
  scale.width_variation = random.uniform(0.03, 0.2);
  scale.amplitude_variation = random.uniform(0.03, 0.25);
  scale.amplitude = 0.8;
  scale.length_variation = random.uniform(0.01, 0.12);
  return scene;
}

// From lines that are blurred to lines that only their long ones tell of.
Scene make_barely_resolved(Random& random) {
  constexpr int kInView = 40;
  Scene scene = tidy_scene({usual_angle(random), 2.4, 16.0, kInView, false}, random);
  scene.optics.gaussian_px = scene.scales.front().pitch_px * random.uniform(0.15, 0.5);
  return scene;
}

/// The short lines run into one another; the longer ones stick out of what is left of them.
Scene make_dense_and_blurred(Random& random) {
  constexpr int kInView = 40;
  Scene scene = tidy_scene({usual_angle(random), 4.0, 18.0, kInView, false}, random);
  LineScale& scale = scene.scales.front();
  scale.levels = random.chance(0.5) ? Levels::fifth_and_tenth : Levels::second_and_tenth;
  scale.line_width_px = scale.pitch_px * random.uniform(0.2, 0.6);
  if (scale.base_line_px > 0.0) scale.base_line_px = scale.line_width_px * random.uniform(0.6, 1.2);
  scale.short_px = random.uniform(12.0, 70.0);
  scale.medium_px = scale.short_px * random.uniform(1.2, 2.0);
  scale.long_px = scale.medium_px * random.uniform(1.1, 1.6);
  scene.optics.gaussian_px = scale.pitch_px * random.uniform(0.35, 0.9);
  return scene;
}

}  // namespace micrograph
