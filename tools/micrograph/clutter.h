// Dirt on the slide and marks drawn over the finished picture.
#pragma once

#include "plane.h"
#include "sensor.h"

namespace micrograph {

/// Specks, scratches and fibres, each with its own softness, for few of them lie in focus.
void draw_clutter(const Scene& scene, Plane& light);

/// Text, scale bars, boxes, frames and arrows, sharp and of one value, as software burns them in.
void draw_marks(const Scene& scene, Samples& samples);

}  // namespace micrograph
