// Fibres and grains with an exact edge.
//
// Model. Each body has a share of light by its signed distance from the edge. Shares are laid on a raster three times
// as fine as the pixels, every cell averaged over its area (to second order in curvature times cell, 1e-4 px for a
// radius of 30 px), multiplied where bodies overlap, blurred by a Gaussian (truncated at five standard deviations) and
// averaged over the pixels.
#pragma once

#include "plane.h"
#include "strips.h"

namespace micrograph {

/// Width of a fibre `along` its centre line of this length.
double width_at(const Body& body, double along, double length);

void draw_bodies(const Scene& scene, Plane& light);

}  // namespace micrograph
