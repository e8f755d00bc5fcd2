// One channel of intermediate values.
#pragma once

#include <cstddef>
#include <vector>

namespace micrograph {

struct Plane {
  Plane(int w, int h, float value) : width(w), height(h), data(static_cast<std::size_t>(w) * h, value) {}
  int width;
  int height;
  std::vector<float> data;

  float* row(int y) { return data.data() + static_cast<std::size_t>(y) * width; }
  const float* row(int y) const { return data.data() + static_cast<std::size_t>(y) * width; }
};

}  // namespace micrograph
