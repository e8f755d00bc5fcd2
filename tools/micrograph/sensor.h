// From light to stored values.
#pragma once

#include <vector>

#include "micrograph/image.h"
#include "micrograph/scene.h"

namespace micrograph {

/// Interleaved values, full scale = 1.
struct Samples {
  int width;
  int height;
  int channels;
  std::vector<float> data;
};

/// Noise (before the colours of a mosaic are filled in), clipping, gamma, sharpening and resampling, in this order.
void expose(const Scene& scene, Samples& samples);

/// Rounds to the scene's depth.
Image quantise(const Scene& scene, const Samples& samples);

}  // namespace micrograph
