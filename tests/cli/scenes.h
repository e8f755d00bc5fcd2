// Pictures the tests make by themselves, byte by byte, sharing nothing with the project.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace cli_test {

// Upright dark lines every `pitch_px` on a bright ground, Gaussian across (standard deviation 1.6 px), every
// fifth and tenth longer, with a little noise. Line n lies at first_px + n * pitch_px.
struct Ruling {
  int width = 640, height = 360;
  double first_px = 21.37;
  double pitch_px = 14.5;
  std::uint64_t noise_seed = 1;
};

// The file as Windows bitmaps have it: 8 bits a pixel, a grey palette, rows from the bottom up.
std::string ruling_bmp(const Ruling& ruling = {});

// A whole scale of `count` lines, of levels as above, hanging from `top_px`.
struct Scale {
  double first_px = 40.0, pitch_px = 10.0;
  int count = 81;
  double top_px = 60.0;
};

// Scales on one ground.
std::string scales_bmp(const std::vector<Scale>& scales, int width = 920, int height = 520);

// A bright ground with the same noise and nothing on it.
std::string blank_bmp(int width = 640, int height = 360);

// 24 bits a pixel: the ruling in the green channel alone.
std::string green_ruling_bmp(const Ruling& ruling = {});

}  // namespace cli_test
