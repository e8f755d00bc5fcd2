#include "ruling/scale_ends.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "numeric/robust.h"

namespace scale {
namespace {

constexpr double kLit = 0.6;   // of the ground between the lines: less is the dark round the field
constexpr double kLine = 0.3;  // of the depth of the last lines: as much is a line
constexpr int kPoints = 9;     // along a line

double sample(const cv::Mat& picture, double px, double py) {
  const int x = static_cast<int>(std::floor(px)), y = static_cast<int>(std::floor(py));
  if (x < 0 || y < 0 || x + 1 >= picture.cols || y + 1 >= picture.rows) return 0.0;
  const auto at = [&](int column, int row) {
    if (picture.depth() == CV_8U) return static_cast<double>(picture.at<unsigned char>(row, column));
    if (picture.depth() == CV_16U) return static_cast<double>(picture.at<unsigned short>(row, column));
    return static_cast<double>(picture.at<float>(row, column));
  };
  const double a = px - x, b = py - y;
  return (1.0 - b) * ((1.0 - a) * at(x, y) + a * at(x + 1, y)) + b * ((1.0 - a) * at(x, y + 1) + a * at(x + 1, y + 1));
}

// Grey values along a line, `shift` divisions beyond it: their median.
double grey_beyond(const cv::Mat& picture, const Ruling& ruling, const Graduation& line, double shift) {
  const double c = std::cos(ruling.direction.value), s = std::sin(ruling.direction.value);
  std::vector<double> values;
  for (int i = 0; i < kPoints; ++i) {
    const double share = (i + 0.5) / kPoints;
    const double x = line.x1_px + share * (line.x2_px - line.x1_px) + shift * ruling.pitch_px * c;
    const double y = line.y1_px + share * (line.y2_px - line.y1_px) + shift * ruling.pitch_px * s;
    values.push_back(grey_at(picture, x, y, ruling.direction.value));
  }
  return numeric::upper_median(std::move(values));
}

bool ends_here(const cv::Mat& rest, const Ruling& ruling, const Graduation& end, double way) {
  const double c = std::cos(ruling.direction.value), s = std::sin(ruling.direction.value);
  const double room = 1.5 * way * ruling.pitch_px;
  for (const auto& [x, y] : {std::pair{end.x1_px, end.y1_px}, std::pair{end.x2_px, end.y2_px}})
    if (x + room * c < 0.0 || y + room * s < 0.0 || x + room * c > rest.cols - 1.0 || y + room * s > rest.rows - 1.0)
      return false;
  const double within = grey_beyond(rest, ruling, end, -0.5 * way), on = grey_beyond(rest, ruling, end, 0.0);
  const double near = grey_beyond(rest, ruling, end, 0.5 * way), far = grey_beyond(rest, ruling, end, 1.5 * way);
  if (ruling.dark_on_bright && std::min(near, far) < kLit * within) return false;
  const double depth = std::abs(0.5 * (within + near) - on);
  const double next = std::abs(0.5 * (near + far) - grey_beyond(rest, ruling, end, way));
  return next < kLine * depth;
}

}  // namespace

double grey_at(const cv::Mat& picture, double x, double y, double direction) {
  const double c = std::cos(direction), s = std::sin(direction);
  return (sample(picture, x, y) + sample(picture, x - s, y + c) + sample(picture, x + s, y - c)) / 3.0;
}

EndsSeen ends_seen(const cv::Mat& rest, const Ruling& ruling) {
  return {ends_here(rest, ruling, ruling.graduations.front(), -1.0),
          ends_here(rest, ruling, ruling.graduations.back(), 1.0)};
}

}  // namespace scale
