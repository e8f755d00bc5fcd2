#include <algorithm>
#include <cmath>
#include <numbers>

#include "strips.h"

namespace micrograph {

Raster::Raster(const Scene& scene, int channel)
    : map_(scene, channel),
      width_(scene.width),
      height_(scene.height),
      uniform_(map_.affine() && scene.optics.focus_gradient == 0.0),
      sigma_(scene.optics.gaussian_px),
      worst_sigma_(sigma_) {
  const double angle = scene.optics.focus_angle_deg * std::numbers::pi / 180.0;
  const double per_pixel = scene.optics.focus_gradient / map_.half_diagonal();
  focus_x_ = per_pixel * std::cos(angle);
  focus_y_ = per_pixel * std::sin(angle);
  focus_offset_ = focus_x_ * map_.middle().x + focus_y_ * map_.middle().y;
  worst_sigma_ = std::hypot(sigma_, scene.optics.focus_gradient);
  if (map_.affine()) return;
  positions_.resize(static_cast<std::size_t>(width_) * height_);
  for (int y = 0; y < height_; ++y) {
    for (int x = 0; x < width_; ++x) {
      positions_[static_cast<std::size_t>(y) * width_ + x] =
          map_.to_object({static_cast<double>(x), static_cast<double>(y)});
    }
  }
}

Point Raster::object_at(int x, int y) const {
  if (positions_.empty()) return map_.to_object({static_cast<double>(x), static_cast<double>(y)});
  return positions_[static_cast<std::size_t>(y) * width_ + x];
}

double Raster::sigma_at(double x, double y) const {
  return std::hypot(sigma_, focus_x_ * x + focus_y_ * y - focus_offset_);
}

}  // namespace micrograph
