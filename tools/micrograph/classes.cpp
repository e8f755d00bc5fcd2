#include "micrograph/classes.h"

#include <array>

#include "makers.h"

namespace micrograph {
namespace {

using Make = Scene (*)(Random&);

template <Change change>
Scene usual_with(Random& random) {
  Scene scene = usual_scene(random);
  weather(scene, random);
  change(scene, random);
  return scene;
}

template <Change change>
Scene turned_with(Random& random) {
  Scene scene = turned_scene(random);
  weather(scene, random);
  change(scene, random);
  return scene;
}

Scene ringed(Random& random) {
  Scene scene = tidy_scene({usual_angle(random), 5.0, 40.0, 11, true}, random);
  ring(scene, random);
  return scene;
}

/// Wide enough for a strongly shrunk picture to keep its lines apart.
Scene resampled_scene(Random& random) {
  Scene scene = tidy_scene({any_angle(random), 9.0, 110.0, 6, false}, random);
  resampled(scene, random);
  return scene;
}

// In the order of the enumeration.
constexpr std::array<Make, 47> kMakers = {make_tidy,
                                          make_tidy_small_pitch,
                                          make_any_angle,
                                          make_partial_view,
                                          make_two_sided,
                                          make_one_sided_numerals,
                                          make_fine_first_part,
                                          make_crossed,
                                          make_square_grid,
                                          make_paired_lines,
                                          turned_with<bright_on_dark>,
                                          turned_with<defocus_gaussian>,
                                          turned_with<defocus_disc>,
                                          turned_with<relief>,
                                          usual_with<shade>,
                                          usual_with<round_field>,
                                          ringed,
                                          usual_with<noisy>,
                                          usual_with<poisson>,
                                          usual_with<saturate>,
                                          turned_with<gamma_curve>,
                                          usual_with<deep_bits>,
                                          usual_with<jpeg_high>,
                                          turned_with<jpeg_mid>,
                                          usual_with<jpeg_low>,
                                          usual_with<mosaic>,
                                          turned_with<sharpened>,
                                          resampled_scene,
                                          usual_with<motion>,
                                          turned_with<colour>,
                                          turned_with<dirt_and_scratches>,
                                          make_missing_and_broken,
                                          make_graduation_errors,
                                          turned_with<text_and_bars>,
                                          turned_with<distort>,
                                          turned_with<tilt_in_depth>,
                                          turned_with<unequal_xy>,
                                          make_small_scale,
                                          make_short_ticks,
                                          make_large_pitch,
                                          make_few_lines,
                                          usual_with<focus_gradient>,
                                          make_uneven_lines,
                                          usual_with<too_blurred>,
                                          make_everything,
                                          make_barely_resolved,
                                          make_dense_and_blurred};
static_assert(kMakers.size() == static_cast<std::size_t>(SceneClass::dense_and_blurred) + 1);

}  // namespace

Scene random_scene(SceneClass scene_class, std::uint64_t seed) {
  Random random(seed, 0xc1a55 + static_cast<std::uint64_t>(scene_class));
  Scene scene = kMakers[static_cast<std::size_t>(scene_class)](random);
  scene.seed = seed;
  scene.name = name_of(scene_class);
  return scene;
}

Scene random_no_scale(NoScale kind, std::uint64_t seed) {
  Random random(seed, 0x0b1a2c + static_cast<std::uint64_t>(kind));
  Scene scene = usual_scene(random);
  scene.scales.clear();
  scene.no_scale = kind;
  scene.regular = random.chance(0.4);
  scene.optics.gaussian_px = random.uniform(0.6, 2.5);
  scene.ground.contrast = random.log_uniform(0.15, 0.95);
  scene.sensor.read_noise = random.log_uniform(0.3, 12.0);
  if (random.chance(0.3)) bright_on_dark(scene, random);
  if (random.chance(0.4)) shade(scene, random);
  if (random.chance(0.2)) round_field(scene, random);
  if (random.chance(0.2)) colour(scene, random);
  if (random.chance(0.15)) dirt_and_scratches(scene, random);
  if (random.chance(0.15)) text_and_bars(scene, random);
  if (random.chance(0.15)) poisson(scene, random);
  if (random.chance(0.15)) sharpened(scene, random);
  if (random.chance(0.1)) gamma_curve(scene, random);
  if (random.chance(0.4) || kind == NoScale::jpeg_grid) scene.sensor.jpeg_quality = random.integer(30, 95);
  if (kind == NoScale::jpeg_grid) scene.sensor.jpeg_quality = random.integer(8, 60);
  scene.seed = seed;
  scene.name = name_of(kind);
  return scene;
}

}  // namespace micrograph
