// The longer lines of a dense scale, every fifth and tenth mostly, where they go on beyond their neighbours.
//
// Lines so close to one another are read with their neighbours in view (line_shape.h), which is only as far as all of
// them go. What is left of the longer ones stands alone, and is read with the shape of one line alone.
#pragma once

#include "ruling/graduations.h"

namespace scale {

// Refines the lines' centres and weights in place, after the joint fit; leaves them where the lines are not dense, one
// line alone is not known, or they bend.
void read_longer_lines(const ImageView& image, Graduations& graduations);

}  // namespace scale
