#include "ruling/working_view.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <scale/units.h>

#include "image/area_means.h"
#include "image/frame.h"

namespace scale {

double folded(double angle) {
  while (angle > kPi / 2.0) angle -= kPi;
  while (angle <= -kPi / 2.0) angle += kPi;
  return angle;
}

double off_right_angle(double a, double b) { return std::abs(folded(a - b - kPi / 2.0)); }

cv::Point2d WorkingView::in_picture(double x, double y) const {
  if (transposed) std::swap(x, y);
  return {x + offset.x, y + offset.y};
}

double WorkingView::turned(double angle) const { return transposed ? folded(kPi / 2.0 - angle) : angle; }

WorkingView Pictures::view(const cv::Rect& region, double angle) {
  WorkingView work;
  work.offset = region.tl();
  work.diagonal = std::hypot(image_.width, image_.height);
  work.transposed = std::abs(angle) > kPi / 4.0;
  if (region == everything()) work.smaller = smaller_;
  if (!work.transposed) {
    work.view = crop(image_, region.x, region.y, region.width, region.height);
    return work;
  }
  if (transpose_.empty()) cv::transpose(as_mat(image_), transpose_);
  work.pixels = transpose_(cv::Rect(region.y, region.x, region.height, region.width));
  work.view = as_view(work.pixels, image_.white);
  return work;
}

const cv::Mat& Pictures::smaller() {
  if (smaller_.empty() && std::min(image_.width, image_.height) >= WorkingView::kReduction)
    smaller_ = area_means(as_mat(image_), WorkingView::kReduction);
  return smaller_;
}

}  // namespace scale
