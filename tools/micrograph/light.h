// Illumination and frame: what falls on the sensor once the things on the slide are known.
#pragma once

#include "plane.h"
#include "strips.h"

namespace micrograph {

/// Turns transmitted light (1 where nothing is) into linear intensity: contrast, polarity, shading, round field.
void illuminate(const Scene& scene, Plane& light);

}  // namespace micrograph
