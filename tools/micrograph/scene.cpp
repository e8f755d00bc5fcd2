#include "micrograph/scene.h"

#include <cmath>

namespace micrograph {
namespace {

std::string why_scale_invalid(const LineScale& scale) {
  if (!(scale.pitch_px > 0.0)) return "a scale's pitch_px must be positive";
  if (!(scale.line_width_px > 0.0)) return "a scale's line_width_px must be positive";
  if (scale.count < 1) return "a scale's count must be 1 or more";
  if (!(scale.short_px > 0.0 && scale.medium_px > 0.0 && scale.long_px > 0.0)) {
    return "a scale's short_px, medium_px and long_px must be positive";
  }
  return {};
}

std::string why_bodies_invalid(const Scene& scene) {
  if (scene.bodies.empty()) return {};
  const Optics& optics = scene.optics;
  const Geometry& geometry = scene.geometry;
  if (optics.disc_px != 0.0 || optics.motion_px != 0.0 || optics.relief_px != 0.0 || optics.focus_gradient != 0.0)
    return "bodies are blurred by optics.gaussian_px alone; leave out disc, motion, relief and focus gradient";
  if (geometry.magnification_x != 1.0 || geometry.magnification_y != 1.0 || geometry.tilt_x != 0.0 ||
      geometry.tilt_y != 0.0 || geometry.distortion != 0.0)
    return "bodies are drawn in the plane of the picture; leave out geometry";
  for (const Body& body : scene.bodies) {
    if (body.points.size() % 2 != 0 || body.points.size() < (body.fibre ? 4U : 6U))
      return "a body's points are x, y of two points or more, of three or more for a grain";
    if (body.fibre && !(body.width_px > 0.0)) return "a fibre's width_px must be positive";
  }
  return {};
}

}  // namespace

std::string why_invalid(const Scene& scene) {
  if (scene.width < 1 || scene.height < 1 || scene.width > 20000 || scene.height > 20000) {
    return "width and height must be between 1 and 20000 pixels";
  }
  if (!(scene.optics.gaussian_px > 0.01)) return "optics.gaussian_px must be above 0.01: no lens is sharper";
  if (scene.colour.channels != 1 && scene.colour.channels != 3) return "colour.channels must be 1 or 3";
  if (scene.colour.mosaic && scene.colour.channels != 3) return "a colour mosaic needs colour.channels = 3";
  if (scene.sensor.bits < 8 || scene.sensor.bits > 16) return "sensor.bits must be between 8 and 16";
  if (scene.sensor.jpeg_quality > 0 && scene.sensor.bits != 8) return "sensor.jpeg_quality needs sensor.bits = 8";
  if (scene.sensor.jpeg_quality < 0 || scene.sensor.jpeg_quality > 100) return "sensor.jpeg_quality must be 0 to 100";
  if (!(scene.sensor.gamma > 0.0)) return "sensor.gamma must be positive";
  if (!(scene.sensor.resample > 0.0)) return "sensor.resample must be positive";
  if (!(std::abs(scene.geometry.distortion) < 0.3)) return "geometry.distortion must be between -0.3 and 0.3";
  for (const LineScale& scale : scene.scales) {
    const std::string problem = why_scale_invalid(scale);
    if (!problem.empty()) return problem;
  }
  return why_bodies_invalid(scene);
}

}  // namespace micrograph
