#include "specimen/followed.h"

#include <algorithm>
#include <opencv2/core.hpp>
#include <vector>

#include "specimen/fibres.h"

namespace scale {
namespace {

// A line that may follow a fibre: how far away it begins at most, and how thin it is, in widths of the fibre.
struct Follower {
  double away = 0.0, thinnest = 0.0, thickest = 0.0;
};

// How far beyond its edge such a line follows the fibre on that side, in pixels; none does: 0.
double line_beside(const Body& fibre, const Silhouettes& shapes, const Follower& line, bool left) {
  constexpr double kMostly = 0.7, kEven = 0.15, kEvenPixels = 1.5;  // of the places; of the distance
  const double width = mean_width(fibre), step = shapes.reduction, away_most = line.away * width;
  const auto is_set = [&](const cv::Point2d& at) {
    const cv::Point place(static_cast<int>(at.x / step), static_cast<int>(at.y / step));
    return cv::Rect({}, shapes.mask.size()).contains(place) && shapes.mask.at<std::uint8_t>(place) != 0;
  };
  std::vector<double> away;
  int looked = 0;
  for (std::size_t i = 0; i < fibre.widths.size(); i += 4) {
    const LocalWidth& local = fibre.widths[i];
    if (!local.used) continue;
    ++looked;
    const PixelPoint &from = left ? local.left : local.right, &opposite = left ? local.right : local.left;
    cv::Point2d way(from.x - opposite.x, from.y - opposite.y);
    way *= 1.0 / std::max(cv::norm(way), 1e-9);
    const auto at = [&](double t) { return is_set({from.x + way.x * t, from.y + way.y * t}); };
    double start = 2.0 * step, end = start;
    while (start < away_most && at(start)) start += step;  // its own silhouette
    while (start < away_most && !at(start)) start += step;
    for (end = start; end < start + 2.0 * width && at(end);) end += step;
    if (start < away_most && end - start < line.thickest * width && end - start > line.thinnest * width)
      away.push_back(start);
  }
  if (static_cast<double>(away.size()) < kMostly * looked || away.size() < 3) return 0.0;
  std::sort(away.begin(), away.end());
  const double middle = away[away.size() / 2], spread = away[away.size() * 3 / 4] - away[away.size() / 4];
  return spread < kEven * middle + kEvenPixels ? middle : 0.0;
}

}  // namespace

// The dark core of a transparent fibre has the rim of that fibre on both sides.
bool is_core(const Body& fibre, const Silhouettes& shapes) {
  constexpr Follower kRim{2.5, 0.0, 0.7};
  const double left = line_beside(fibre, shapes, kRim, true);
  const double right = left > 0.0 ? line_beside(fibre, shapes, kRim, false) : 0.0;
  constexpr double kAlike = 1.5;
  return right > 0.0 && std::max(left, right) < kAlike * std::min(left, right) + 2.0;
}

// Rims are narrow against the blur, and the other side of a transparent fibre is a line like this one.
bool may_be_a_side(const Body& fibre, const Silhouettes& shapes) {
  constexpr double kNarrow = 6.0;  // blurs of the fibre
  constexpr Follower kOtherSide{8.0, 0.4, 1.8};
  if (mean_width(fibre) > kNarrow * fibre.edge_blur_px) return false;
  return line_beside(fibre, shapes, kOtherSide, true) > 0.0 || line_beside(fibre, shapes, kOtherSide, false) > 0.0;
}

}  // namespace scale
