// Lines of points: lengths, even steps, smoothing, directions.
#pragma once

#include <algorithm>
#include <opencv2/core.hpp>
#include <vector>

namespace scale {

struct LineFit {
  cv::Point2d centre, direction;  // unit vector; its sign is arbitrary
};

// Least squares of the distances at right angles. At least two points.
LineFit fit_line_through(const std::vector<cv::Point2d>& points);

double length_of(const std::vector<cv::Point2d>& path);

// Share of the points, about one apart, from one to the other that `inside` holds of.
template <class Inside>
double share_of_way(const cv::Point2d& from, const cv::Point2d& to, const Inside& inside) {
  const int steps = std::max(2, static_cast<int>(cv::norm(to - from)));
  int count = 0;
  for (int i = 0; i <= steps; ++i) count += inside(from + (to - from) * (static_cast<double>(i) / steps)) ? 1 : 0;
  return count / (steps + 1.0);
}

// Points at even steps of about `step` along the path, both ends kept; `closed`: from the last point back to the first.
std::vector<cv::Point2d> resampled(const std::vector<cv::Point2d>& path, double step, bool closed = false);

// Gaussian smoothing along evenly spaced points, `sigma` in points. An open path goes on straight beyond its ends,
// which stay where they are.
std::vector<cv::Point2d> smoothed(const std::vector<cv::Point2d>& path, double sigma, bool closed = false);

// Unit normals, a quarter turn from the path's direction (from +x towards +y), from the points to both sides.
std::vector<cv::Point2d> normals_of(const std::vector<cv::Point2d>& path, bool closed = false);

}  // namespace scale
