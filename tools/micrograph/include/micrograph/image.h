// A rendered picture: what a camera would have stored.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace micrograph {

/// Samples are row by row, channels interleaved (RGB order). The centre of the top-left pixel is (0, 0).
struct Image {
  int width = 0;
  int height = 0;
  int channels = 1;  ///< 1 grey, 3 RGB
  int bits = 8;      ///< depth of the values; 8 to 16, right-aligned in the sample
  std::vector<std::uint16_t> samples;

  std::size_t pixels() const { return static_cast<std::size_t>(width) * static_cast<std::size_t>(height); }
};

/// One byte a pixel: the luminance (0.299 R + 0.587 G + 0.114 B, ITU-R BT.601) brought to 8 bits by rounding.
std::vector<std::uint8_t> grey8(const Image& image);

}  // namespace micrograph
