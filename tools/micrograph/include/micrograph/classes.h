// Random scenes by class, from seeds.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "micrograph/scene.h"

namespace micrograph {

enum class SceneClass {
  tidy,
  tidy_small_pitch,
  any_angle,
  partial_view,
  two_sided,
  one_sided_numerals,
  fine_first_part,
  crossed,
  square_grid,
  paired_lines,
  bright_on_dark,
  defocus_gaussian,
  defocus_disc,
  relief,
  shading,
  round_field,
  ring,
  noisy,
  poisson,
  saturated,
  gamma,
  deep_bits,
  jpeg_high,
  jpeg_mid,
  jpeg_low,
  mosaic,
  sharpened,
  resampled,
  motion,
  colour,
  dirt_and_scratches,
  missing_and_broken,
  graduation_errors,
  text_and_bars,
  distortion,
  tilt_in_depth,
  unequal_xy,
  small_scale_in_large_field,
  short_ticks,
  large_pitch,
  few_lines,
  focus_gradient,
  uneven_lines,
  too_blurred,
  everything,
  barely_resolved,
  dense_and_blurred
};

std::vector<SceneClass> all_scene_classes();
std::string_view name_of(SceneClass scene_class);
std::optional<SceneClass> scene_class_named(std::string_view name);

/// The same scene for the same class and seed, on every platform.
Scene random_scene(SceneClass scene_class, std::uint64_t seed);

/// Kinds of pictures that carry no scale.
std::vector<NoScale> all_no_scale();
std::string_view name_of(NoScale kind);
std::optional<NoScale> no_scale_named(std::string_view name);
Scene random_no_scale(NoScale kind, std::uint64_t seed);

}  // namespace micrograph
