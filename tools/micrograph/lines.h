// Rulings, numerals and the ring round a scale, laid onto what the light passes.
#pragma once

#include <map>
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

/// `painters` keeps their tables from one text of the scene to the next.
using Painters = std::map<double, StripPainter>;  // by the stroke's direction: glyphs have few
void draw_text(const Scene& scene, const Raster& raster, std::string_view text, const Lettering& lettering,
               Painters& painters, Plane& light);

void draw_ring(const Scene& scene, const Raster& raster, Plane& light);

}  // namespace micrograph
