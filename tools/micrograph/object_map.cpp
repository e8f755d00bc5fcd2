#include "object_map.h"

#include <cmath>

namespace micrograph {
namespace {

double channel_scale(const Geometry& geometry, int channel) {
  if (channel == 0) return 1.0 + geometry.lateral_red;
  if (channel == 2) return 1.0 + geometry.lateral_blue;
  return 1.0;
}

}  // namespace

ObjectMap::ObjectMap(const Scene& scene, int channel)
    : geometry_(scene.geometry),
      scale_(channel_scale(scene.geometry, channel)),
      middle_{0.5 * (scene.width - 1), 0.5 * (scene.height - 1)},
      radius_(0.5 * std::hypot(scene.width, scene.height)),
      affine_(geometry_.tilt_x == 0.0 && geometry_.tilt_y == 0.0 && geometry_.distortion == 0.0) {}

Point ObjectMap::to_picture(Point object) const {
  double x = object.x - middle_.x;
  double y = object.y - middle_.y;
  const double depth = 1.0 + (geometry_.tilt_x * x + geometry_.tilt_y * y) / radius_;
  x *= geometry_.magnification_x / depth;
  y *= geometry_.magnification_y / depth;
  const double r2 = (x * x + y * y) / (radius_ * radius_);
  const double stretch = scale_ * (1.0 + geometry_.distortion * r2);
  return {middle_.x + x * stretch, middle_.y + y * stretch};
}

Point ObjectMap::to_object(Point picture) const {
  double x = (picture.x - middle_.x) / scale_;
  double y = (picture.y - middle_.y) / scale_;
  if (geometry_.distortion != 0.0) {
    const double stored = std::sqrt(x * x + y * y) / radius_;
    double r = stored;
    for (int i = 0; i < 20 && stored > 0.0; ++i) {
      const double step =
          (r * (1.0 + geometry_.distortion * r * r) - stored) / (1.0 + 3.0 * geometry_.distortion * r * r);
      r -= step;
      if (std::abs(step) < 1e-13) break;
    }
    const double shrink = stored > 0.0 ? r / stored : 1.0;
    x *= shrink;
    y *= shrink;
  }
  x /= geometry_.magnification_x;
  y /= geometry_.magnification_y;
  const double depth = 1.0 - (geometry_.tilt_x * x + geometry_.tilt_y * y) / radius_;
  return {middle_.x + x / depth, middle_.y + y / depth};
}

}  // namespace micrograph
