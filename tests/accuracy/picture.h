// A rendered picture as the engine is given it: grey, colour brought to luminance, 8 bits or 16.
#pragma once

#include <scale/image.h>

#include <cstdint>
#include <vector>

#include "micrograph/image.h"

namespace accuracy {

class Picture {
 public:
  explicit Picture(const micrograph::Image& image);
  scale::ImageView view() const;

 private:
  int width_, height_, bits_;
  std::vector<std::uint8_t> bytes_;
  std::vector<std::uint16_t> words_;
};

}  // namespace accuracy
