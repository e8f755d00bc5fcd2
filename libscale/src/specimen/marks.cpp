#include "specimen/marks.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace scale {
namespace {

constexpr double kFlat = 0.2;  // share of samples equal to two neighbours: noise of one grey level makes 0.06
constexpr double kBetween =
    0.6;  // samples between the quarters of the step for one of the edge; a blur of 0.8 makes 1.1
constexpr double kLeastNoise = 0.6;  // grey levels of 255

template <class Sample>
bool drawn(const ImageView& image, const Ground& ground, const Silhouettes& shapes, int label, const cv::Rect& box) {
  const auto value = [&](int x, int y) { return image.row<Sample>(y)[x]; };
  const int reduction = shapes.reduction;
  std::vector<int> column, counts(std::numeric_limits<Sample>::max() + 1);  // of the mask; by value
  for (int x = box.x; x + 1 < box.br().x; ++x) column.push_back(std::min(x / reduction, shapes.labels.cols));
  int inside = 0;
  for (int y = box.y; y + 1 < box.br().y && y / reduction < shapes.labels.rows; ++y) {
    const int* labels = shapes.labels.ptr<int>(y / reduction);
    for (int x = box.x; x + 1 < box.br().x; ++x) {
      const int at = column[static_cast<std::size_t>(x - box.x)];
      if (at >= shapes.labels.cols || labels[at] != label) continue;
      ++inside;
      if (value(x, y) == value(x + 1, y) && value(x, y) == value(x, y + 1)) ++counts[value(x, y)];
    }
  }
  const auto most = std::max_element(counts.begin(), counts.end());
  if (*most == 0 || *most < kFlat * inside) return false;
  const double around = ground.at(box.x + 0.5 * box.width, box.y + 0.5 * box.height);
  const double step = static_cast<double>(most - counts.begin()) - around;
  const auto share = [&](int x, int y) { return (static_cast<double>(value(x, y)) - around) / step; };
  int between = 0, edge = 0;
  for (int y = box.y; y + 1 < box.br().y; ++y)
    for (int x = box.x; x + 1 < box.br().x; ++x) {
      const double here = share(x, y);
      between += here > 0.25 && here < 0.75;
      edge += (here > 0.5) != (share(x + 1, y) > 0.5) || (here > 0.5) != (share(x, y + 1) > 0.5);
    }
  return between < kBetween * edge;
}

}  // namespace

bool is_drawn_mark(const ImageView& image, const Ground& ground, const Silhouettes& shapes, int label, double noise) {
  if (noise < kLeastNoise * image.white / 255.0) return false;
  const auto stat = [&](int what) { return shapes.stats.at<int>(label, what) * shapes.reduction; };
  constexpr int kBeside = 3;  // pixels
  const cv::Rect box = cv::Rect(stat(cv::CC_STAT_LEFT) - kBeside, stat(cv::CC_STAT_TOP) - kBeside,
                                stat(cv::CC_STAT_WIDTH) + 2 * kBeside, stat(cv::CC_STAT_HEIGHT) + 2 * kBeside) &
                       cv::Rect(0, 0, image.width, image.height);
  if (image.type == SampleType::u8) return drawn<std::uint8_t>(image, ground, shapes, label, box);
  if (image.type == SampleType::u16) return drawn<std::uint16_t>(image, ground, shapes, label, box);
  return false;
}

}  // namespace scale
