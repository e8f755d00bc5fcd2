#include "object_map.h"

#include <algorithm>
#include <cmath>

namespace micrograph {
namespace {

double channel_scale(const Geometry& geometry, int channel) {
  if (channel == 0) return 1.0 + geometry.lateral_red;
  if (channel == 2) return 1.0 + geometry.lateral_blue;
  return 1.0;
}

constexpr double kLeastDepth = 0.05;  // of that at the middle: what lies behind the lens is far outside

/// How far from the middle a place comes to lie, over its distance r, half diagonals. Where a barrel would turn back
/// inwards, it goes on outwards: nothing out there is seen.
double stretched(double distortion, double r) {
  const double turn = distortion < 0.0 ? std::sqrt(-1.0 / (3.0 * distortion)) : r;
  if (r <= turn) return 1.0 + distortion * r * r;
  return (r - turn + turn * (1.0 + distortion * turn * turn)) / r;
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
  const double depth = std::max(kLeastDepth, 1.0 + (geometry_.tilt_x * x + geometry_.tilt_y * y) / radius_);
  x *= geometry_.magnification_x / depth;
  y *= geometry_.magnification_y / depth;
  const double stretch = scale_ * stretched(geometry_.distortion, std::hypot(x, y) / radius_);
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
