// Rulings, numerals and the ring round a scale, laid onto what the light passes.
#pragma once

#include <string_view>

#include "plane.h"
#include "strips.h"

namespace micrograph {

/// Multiplies `light` (1 where nothing is) by what the scene's scales leave through.
void draw_scales(const Scene& scene, const Raster& raster, Plane& light);

struct Lettering {
  Point at;            ///< top left of the first glyph
  double angle = 0.0;  ///< radians
  double height = 20.0;
  double stroke = 2.0;
  double amplitude = 1.0;
};

void draw_text(const Scene& scene, const Raster& raster, std::string_view text, const Lettering& lettering,
               Plane& light);

void draw_ring(const Scene& scene, const Raster& raster, Plane& light);

}  // namespace micrograph
