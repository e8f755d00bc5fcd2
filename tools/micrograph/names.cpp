#include <array>

#include "micrograph/classes.h"

namespace micrograph {
namespace {

// In the order of the enumerations.
constexpr std::array<std::string_view, 47> kClassNames = {"tidy",
                                                          "tidy_small_pitch",
                                                          "any_angle",
                                                          "partial_view",
                                                          "two_sided",
                                                          "one_sided_numerals",
                                                          "fine_first_part",
                                                          "crossed",
                                                          "square_grid",
                                                          "paired_lines",
                                                          "bright_on_dark",
                                                          "defocus_gaussian",
                                                          "defocus_disc",
                                                          "relief",
                                                          "shading",
                                                          "round_field",
                                                          "ring",
                                                          "noisy",
                                                          "poisson",
                                                          "saturated",
                                                          "gamma",
                                                          "deep_bits",
                                                          "jpeg_high",
                                                          "jpeg_mid",
                                                          "jpeg_low",
                                                          "mosaic",
                                                          "sharpened",
                                                          "resampled",
                                                          "motion",
                                                          "colour",
                                                          "dirt_and_scratches",
                                                          "missing_and_broken",
                                                          "graduation_errors",
                                                          "text_and_bars",
                                                          "distortion",
                                                          "tilt_in_depth",
                                                          "unequal_xy",
                                                          "small_scale_in_large_field",
                                                          "short_ticks",
                                                          "large_pitch",
                                                          "few_lines",
                                                          "focus_gradient",
                                                          "uneven_lines",
                                                          "too_blurred",
                                                          "everything",
                                                          "barely_resolved",
                                                          "dense_and_blurred"};
static_assert(kClassNames.size() == static_cast<std::size_t>(SceneClass::dense_and_blurred) + 1);

constexpr std::array<std::string_view, 22> kNoScaleNames = {
    "none",           "blank",          "white_noise", "cloud", "fibres",     "parallel_fibres", "grains", "text_page",
    "edges",          "uneven_stripes", "chirp",       "rings", "brickwork",  "cloth",           "tiles",  "voronoi",
    "changing_pairs", "jpeg_grid",      "discs",       "star",  "zone_plate", "scratches"};
static_assert(kNoScaleNames.size() == static_cast<std::size_t>(NoScale::scratches) + 1);

}  // namespace

std::vector<SceneClass> all_scene_classes() {
  std::vector<SceneClass> all;
  for (std::size_t i = 0; i < kClassNames.size(); ++i) all.push_back(static_cast<SceneClass>(i));
  return all;
}

std::string_view name_of(SceneClass scene_class) { return kClassNames[static_cast<std::size_t>(scene_class)]; }

std::optional<SceneClass> scene_class_named(std::string_view name) {
  for (std::size_t i = 0; i < kClassNames.size(); ++i) {
    if (kClassNames[i] == name) return static_cast<SceneClass>(i);
  }
  return std::nullopt;
}

std::vector<NoScale> all_no_scale() {
  std::vector<NoScale> all;
  for (std::size_t i = 1; i < kNoScaleNames.size(); ++i) all.push_back(static_cast<NoScale>(i));
  return all;
}

std::string_view name_of(NoScale kind) { return kNoScaleNames[static_cast<std::size_t>(kind)]; }

std::optional<NoScale> no_scale_named(std::string_view name) {
  for (std::size_t i = 1; i < kNoScaleNames.size(); ++i) {
    if (kNoScaleNames[i] == name) return static_cast<NoScale>(i);
  }
  return std::nullopt;
}

}  // namespace micrograph
