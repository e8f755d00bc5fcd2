// A rendered picture as the engine is given it: grey, 8 bits.
#pragma once

#include <scale/image.h>

#include <cstdint>
#include <vector>

#include "micrograph/image.h"
#include "micrograph/render.h"

namespace test_support {

struct GreyPicture {
  std::vector<std::uint8_t> samples;
  int width = 0, height = 0;
  scale::ImageView view() const { return {samples.data(), width, height, width, scale::SampleType::u8, 255.0}; }
};

inline GreyPicture grey_picture(const micrograph::Scene& scene) {
  const micrograph::Image image = micrograph::render(scene);
  return {micrograph::grey8(image), image.width, image.height};
}

}  // namespace test_support
