#include "specimen/polyline.h"

#include <algorithm>
#include <cmath>

namespace scale {

LineFit fit_line_through(const std::vector<cv::Point2d>& points) {
  LineFit line;
  for (const cv::Point2d& point : points) line.centre += point;
  line.centre *= 1.0 / static_cast<double>(points.size());
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (const cv::Point2d& point : points) {
    const cv::Point2d d = point - line.centre;
    xx += d.x * d.x, xy += d.x * d.y, yy += d.y * d.y;
  }
  const double angle = 0.5 * std::atan2(2.0 * xy, xx - yy);
  line.direction = {std::cos(angle), std::sin(angle)};
  return line;
}

double length_of(const std::vector<cv::Point2d>& path) {
  double length = 0.0;
  for (std::size_t i = 1; i < path.size(); ++i) length += cv::norm(path[i] - path[i - 1]);
  return length;
}

std::vector<cv::Point2d> resampled(const std::vector<cv::Point2d>& path, double step, bool closed) {
  std::vector<cv::Point2d> whole = path;
  if (closed && !path.empty()) whole.push_back(path.front());
  const double length = length_of(whole);
  if (whole.size() < 2 || length <= 0.0) return path;
  const auto count = static_cast<std::size_t>(std::max(1.0, std::round(length / step)));
  std::vector<cv::Point2d> result{whole.front()};
  double passed = 0.0;
  std::size_t segment = 1;
  double piece = cv::norm(whole[1] - whole[0]);
  for (std::size_t i = 1; i < count; ++i) {
    const double target = length * static_cast<double>(i) / static_cast<double>(count);
    while (passed + piece < target && segment + 1 < whole.size()) {
      passed += piece;
      ++segment;
      piece = cv::norm(whole[segment] - whole[segment - 1]);
    }
    const double share = piece > 0.0 ? (target - passed) / piece : 0.0;
    result.push_back(whole[segment - 1] + (whole[segment] - whole[segment - 1]) * share);
  }
  if (!closed) result.push_back(whole.back());
  return result;
}

std::vector<cv::Point2d> smoothed(const std::vector<cv::Point2d>& path, double sigma, bool closed) {
  const auto count = static_cast<std::ptrdiff_t>(path.size());
  if (count < 3) return path;
  const auto reach = std::max<std::ptrdiff_t>(1, std::llround(3.0 * sigma));
  std::vector<double> kernel;
  for (std::ptrdiff_t k = -reach; k <= reach; ++k)
    kernel.push_back(std::exp(-0.5 * static_cast<double>(k * k) / (sigma * sigma)));
  // Beyond an open end the path is turned about that end by half a turn, so that the end stays.
  const auto at = [&](std::ptrdiff_t i) {
    if (closed) return path[static_cast<std::size_t>(((i % count) + count) % count)];
    if (i < 0) return 2.0 * path.front() - path[static_cast<std::size_t>(std::min(-i, count - 1))];
    if (i >= count)
      return 2.0 * path.back() - path[static_cast<std::size_t>(std::max<std::ptrdiff_t>(2 * count - 2 - i, 0))];
    return path[static_cast<std::size_t>(i)];
  };
  std::vector<cv::Point2d> extended;
  extended.reserve(static_cast<std::size_t>(count + 2 * reach));
  for (std::ptrdiff_t i = -reach; i < count + reach; ++i) extended.push_back(at(i));
  double weight = 0.0;
  for (const double w : kernel) weight += w;
  std::vector<cv::Point2d> result(path.size());
  for (std::size_t i = 0; i < result.size(); ++i) {
    cv::Point2d sum;
    for (std::size_t k = 0; k < kernel.size(); ++k) sum += kernel[k] * extended[i + k];
    result[i] = sum * (1.0 / weight);
  }
  return result;
}

std::vector<cv::Point2d> normals_of(const std::vector<cv::Point2d>& path, bool closed) {
  const std::size_t count = path.size();
  std::vector<cv::Point2d> normals(count);
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t before = i > 0 ? i - 1 : (closed ? count - 1 : 0);
    const std::size_t after = i + 1 < count ? i + 1 : (closed ? 0 : count - 1);
    const cv::Point2d way = path[after] - path[before];
    const double length = std::max(cv::norm(way), 1e-12);
    normals[i] = {-way.y / length, way.x / length};
  }
  return normals;
}

}  // namespace scale
