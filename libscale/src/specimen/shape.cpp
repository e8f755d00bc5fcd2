#include "specimen/shape.h"

#include <algorithm>
#include <cmath>

namespace scale {

std::vector<cv::Point2d> hull_of(std::vector<cv::Point2d> points) {
  std::sort(points.begin(), points.end(),
            [](const cv::Point2d& a, const cv::Point2d& b) { return a.x != b.x ? a.x < b.x : a.y < b.y; });
  std::vector<cv::Point2d> hull;
  for (int pass = 0; pass < 2; ++pass) {
    const std::size_t start = hull.size();
    for (const cv::Point2d& point : points) {
      while (hull.size() >= start + 2 &&
             (hull.back() - hull[hull.size() - 2]).cross(point - hull[hull.size() - 2]) <= 0.0)
        hull.pop_back();
      hull.push_back(point);
    }
    hull.pop_back();
    std::reverse(points.begin(), points.end());
  }
  return hull;
}

double largest_feret(const std::vector<cv::Point2d>& outline) {
  const std::vector<cv::Point2d> hull = hull_of(outline);
  double most = 0.0;  // squared: a root for each pair was a fiftieth of the time of a picture of grains
  for (std::size_t i = 0; i < hull.size(); ++i)
    for (std::size_t j = i + 1; j < hull.size(); ++j) {
      const cv::Point2d apart = hull[i] - hull[j];
      most = std::max(most, apart.dot(apart));
    }
  return std::sqrt(most);
}

double least_feret(const std::vector<cv::Point2d>& outline) {
  const std::vector<cv::Point2d> hull = hull_of(outline);
  const std::size_t count = hull.size();
  if (count < 3) return 0.0;
  double least = 1e300;
  // From side to side the corner furthest off only moves on around the hull.
  std::size_t corner = 1;
  for (std::size_t i = 0; i < count; ++i) {
    const cv::Point2d side = hull[(i + 1) % count] - hull[i];
    const auto off = [&](std::size_t at) { return side.cross(hull[at] - hull[i]); };
    for (std::size_t moved = 0; moved < count && off((corner + 1) % count) >= off(corner); ++moved)
      corner = (corner + 1) % count;
    least = std::min(least, std::abs(off(corner)) / cv::norm(side));
  }
  return least;
}

double perimeter(const std::vector<cv::Point2d>& outline) {
  double sum = 0.0;
  for (std::size_t i = 0; i < outline.size(); ++i) sum += cv::norm(outline[(i + 1) % outline.size()] - outline[i]);
  return sum;
}

double body_area(const Body& body) {
  std::vector<cv::Point2d> outline;
  for (const PixelPoint& point : body.outline) outline.emplace_back(point.x, point.y);
  return std::abs(signed_area(outline));
}

double signed_area(const std::vector<cv::Point2d>& outline) {
  double twice = 0.0;
  for (std::size_t i = 0; i < outline.size(); ++i) twice += outline[i].cross(outline[(i + 1) % outline.size()]);
  return 0.5 * twice;
}

PixelPoint centroid(const std::vector<PixelPoint>& outline) {
  double twice = 0.0, x = 0.0, y = 0.0;
  if (outline.empty()) return {};
  const PixelPoint& origin = outline.front();  // keeps digits far from the frame's corner
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const PixelPoint a{outline[i].x - origin.x, outline[i].y - origin.y};
    const PixelPoint& next = outline[(i + 1) % outline.size()];
    const PixelPoint b{next.x - origin.x, next.y - origin.y};
    const double cross = a.x * b.y - b.x * a.y;
    twice += cross, x += cross * (a.x + b.x), y += cross * (a.y + b.y);
  }
  if (twice == 0.0) return origin;
  return {origin.x + x / (3.0 * twice), origin.y + y / (3.0 * twice)};
}

}  // namespace scale
