#include "ruling/extent.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "numeric/robust.h"
#include "ruling/scale_views.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

constexpr double kOnePitch = 0.1, kOneLean = 0.05;  // relative, radians: what perspective changes along a scale
constexpr double kMostCommon = 0.2;                 // of the shorter: pieces of one scale share less

}  // namespace

Extent extent_of(const Ruling& ruling) {
  std::vector<double> lengths;
  for (const Graduation& line : ruling.graduations) lengths.push_back(length_of(line));
  return {ruling.direction.value, ruling.pitch_px, numeric::upper_median(std::move(lengths)),
          middle_of(ruling.graduations.front()), middle_of(ruling.graduations.back())};
}

bool follow_each_other(const Extent& a, const Extent& b) {
  if (std::abs(a.pitch / b.pitch - 1.0) > kOnePitch || std::abs(folded(a.direction - b.direction)) > kOneLean)
    return false;
  const double c = std::cos(a.direction), s = std::sin(a.direction);
  const auto t = [&](const cv::Point2d& p) { return p.x * c + p.y * s; };
  const auto middle_v = [&](const Extent& of) {
    return 0.5 * ((of.first.y + of.last.y) * c - (of.first.x + of.last.x) * s);
  };
  if (std::abs(middle_v(b) - middle_v(a)) >= 0.5 * (a.length + b.length)) return false;
  const auto [a_low, a_high] = std::minmax({t(a.first), t(a.last)});
  const auto [b_low, b_high] = std::minmax({t(b.first), t(b.last)});
  return std::min(a_high, b_high) - std::max(a_low, b_low) < kMostCommon * std::min(a_high - a_low, b_high - b_low);
}

}  // namespace scale
