#include "ruling/turned.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include <scale/units.h>

#include "ruling/working_view.h"

namespace scale {
namespace {

constexpr double kLevelEnough = 0.0175;  // radians

struct Turn {
  double angle;
  cv::Point2d before, after;
  cv::Point2d operator()(double x, double y) const {
    const double c = std::cos(angle), s = std::sin(angle), dx = x - before.x, dy = y - before.y;
    return {after.x + c * dx - s * dy, after.y + s * dx + c * dy};
  }
};

template <class Line>
void turn_line(Line& line, const Turn& turn) {
  const cv::Point2d a = turn(line.x1_px, line.y1_px), b = turn(line.x2_px, line.y2_px);
  line.x1_px = a.x, line.y1_px = a.y, line.x2_px = b.x, line.y2_px = b.y;
}

// Counted from the other end, the axis pointing the other way.
void reverse(Ruling& ruling) {
  const int last = ruling.graduations.back().index;
  ruling.origin_px = -(ruling.origin_px + last * ruling.pitch_px);
  for (Graduation& line : ruling.graduations) {
    line.index = last - line.index;
    line.position_px = -line.position_px;
    line.residual_px = -line.residual_px;
  }
  std::reverse(ruling.graduations.begin(), ruling.graduations.end());
  ruling.pitch_growth_per_px = -ruling.pitch_growth_per_px;
  for (std::size_t k = 0; k < ruling.nonlinearity.size(); k += 2) ruling.nonlinearity[k] = -ruling.nonlinearity[k];
  for (double& offset : ruling.profile_offset_px) offset = -offset;
  std::reverse(ruling.profile_offset_px.begin(), ruling.profile_offset_px.end());
  std::reverse(ruling.profile_value.begin(), ruling.profile_value.end());
}

Ruling turned(Ruling ruling, const Turn& turn) {
  const auto along = [&ruling](const cv::Point2d& p) {
    return p.x * std::cos(ruling.direction.value) + p.y * std::sin(ruling.direction.value);
  };
  const double before = along({ruling.graduations.front().x1_px, ruling.graduations.front().y1_px});
  for (Graduation& line : ruling.graduations) turn_line(line, turn);
  for (RejectedLine& line : ruling.rejected) turn_line(line, turn);
  ruling.direction.value += turn.angle;
  const double shift = along({ruling.graduations.front().x1_px, ruling.graduations.front().y1_px}) - before;
  ruling.origin_px += shift;
  for (Graduation& line : ruling.graduations) line.position_px += shift;
  const double direction = folded(ruling.direction.value);
  if (std::abs(direction - ruling.direction.value) > 1.0) reverse(ruling);
  ruling.direction.value = direction;
  return ruling;
}

}  // namespace

Ruling moved(Ruling ruling, double dx, double dy) { return turned(std::move(ruling), {0.0, {0.0, 0.0}, {dx, dy}}); }

Turned::Turned(const cv::Mat& picture, double direction) : size_(picture.size()), picture_(picture) {
  const double quarter = kPi / 2.0;
  angle_ = quarter * std::round(direction / quarter) - direction;
  before_ = after_ = {0.5 * (size_.width - 1), 0.5 * (size_.height - 1)};
  if (std::abs(angle_) < kLevelEnough) {
    angle_ = 0.0;
    return;
  }
  const double c = std::cos(angle_), s = std::sin(angle_);
  const int width = static_cast<int>(std::ceil(size_.width * c + size_.height * std::abs(s)));
  const int height = static_cast<int>(std::ceil(size_.width * std::abs(s) + size_.height * c));
  after_ = {0.5 * (width - 1), 0.5 * (height - 1)};
  const cv::Mat map = (cv::Mat_<double>(2, 3) << c, -s, after_.x - c * before_.x + s * before_.y, s, c,
                       after_.y - s * before_.x - c * before_.y);
  cv::Mat result;
  cv::warpAffine(picture, result, map, {width, height}, cv::INTER_CUBIC, cv::BORDER_CONSTANT, cv::mean(picture));
  picture_ = result;
}

Ruling Turned::back(Ruling ruling) const {
  return angle_ == 0.0 ? std::move(ruling) : turned(std::move(ruling), {-angle_, after_, before_});
}

Ruling Turned::there(Ruling ruling) const {
  return angle_ == 0.0 ? std::move(ruling) : turned(std::move(ruling), {angle_, before_, after_});
}

cv::Rect Turned::inside(const cv::Rect& part) const {
  if (angle_ == 0.0) return part;
  const Turn turn{-angle_, after_, before_};
  const bool wide = part.width >= part.height;
  const int from = wide ? part.x : part.y, to = from + (wide ? part.width : part.height);
  int first = to, last = from - 1;
  for (int i = from; i < to; ++i) {
    const cv::Point2d p = wide ? turn(i, part.y + 0.5 * part.height) : turn(part.x + 0.5 * part.width, i);
    if (p.x < 0.0 || p.y < 0.0 || p.x > size_.width - 1.0 || p.y > size_.height - 1.0) continue;
    first = std::min(first, i), last = std::max(last, i);
  }
  const int length = std::max(0, last - first + 1);
  return wide ? cv::Rect(first, part.y, length, part.height) : cv::Rect(part.x, first, part.width, length);
}

}  // namespace scale
