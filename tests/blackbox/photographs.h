// Real photographs in the folder that GRADUS_REAL_IMAGES names, with pitches read by hand on enlarged copies.
// The photographs are not part of the project; the list that lies with them names their sources and licences.
#pragma once

#include <doctest/doctest.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <optional>

namespace photographs {

struct Reading {
  double value, uncertainty;  // as read by hand
};

struct Photograph {
  const char* file;
  std::optional<Reading> um_per_pixel;            // absent: carries no scale and must be refused
  std::optional<Reading> pitch_x_px, pitch_y_px;  // of a grid
};

inline const Photograph kPhotographs[] = {
    {"scale_a.png", Reading{1.2932, 0.0015}, {}, {}},
    {"scale_b.png", Reading{3.472, 0.012}, {}, {}},
    {"grid_a.png", Reading{0.1161, 0.0002}, Reading{86.07, 0.15}, Reading{86.28, 0.15}},
    {"none_a.png", {}, {}, {}},
    {"none_b.png", {}, {}, {}},
};
// What the hand reading gives, doubled: its uncertainty is a standard one.
inline constexpr double kReadingCoverage = 2.0;
// Nothing, with the reason printed, when no folder is named.
inline std::optional<std::filesystem::path> folder() {
  const char* named = std::getenv("GRADUS_REAL_IMAGES");
  if (named == nullptr || *named == '\0') {
    std::printf("skipped: GRADUS_REAL_IMAGES is not set; let it name a folder of real photographs\n");
    return std::nullopt;
  }
  REQUIRE_MESSAGE(std::filesystem::is_directory(named), "GRADUS_REAL_IMAGES names no folder: ", named);
  return std::filesystem::path(named);
}

}  // namespace photographs
