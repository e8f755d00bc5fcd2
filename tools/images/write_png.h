// PNG files, whole or not at all.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

#include <scale/image.h>

#include "images/output_file.h"

namespace images {

// Non-owning view of 8-bit colours, interleaved; `row_bytes` is the distance between rows.
struct ColourView {
  const std::uint8_t* data = nullptr;
  int width = 0;
  int height = 0;
  std::ptrdiff_t row_bytes = 0;
  bool blue_first = false;  // blue, green, red as OpenCV keeps them, instead of red, green, blue
};

// Grey, 8 or 16 bits by the type of `image`. Throws std::invalid_argument for a float or an empty view.
[[nodiscard]] WriteResult write_png(const std::string& path, const scale::ImageView& image);
// Colour. Throws std::invalid_argument for an empty view.
[[nodiscard]] WriteResult write_png(const std::string& path, const ColourView& image);

}  // namespace images
