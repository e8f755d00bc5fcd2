// Letters, bars and arrows that software drew into a picture: of one exact value and without the blur of a lens.
#pragma once

#include "specimen/silhouettes.h"

namespace scale {

// Is this silhouette drawn? One value in flat patches, where the sensor's noise would have none, and hardly a sample
// half-way between it and the ground along its edge. Without noise in the picture nobody can tell: false.
bool is_drawn_mark(const ImageView& image, const Ground& ground, const Silhouettes& shapes, int label, double noise);

}  // namespace scale
