#include "specimen/marks.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/frame.h"
#include "specimen/components.h"

namespace scale {
namespace {

constexpr double kLeastNoise = 0.6;  // grey levels of 255; with less, flat places are everywhere
constexpr int kLeastFlat = 30;       // flat samples of one value: less is not worth a second look
constexpr int kStandsOut = 4;        // times as many as of the values beside it
constexpr int kLeastSize = 6;        // samples of a mark
constexpr double kSampled = 2e6;     // samples looked at to know whether there is anything drawn at all
constexpr double kAtOnce = 0.75;     // of what changes within two pixels of the border, within the first
constexpr double kSharp = 0.7;       // share of the border that does so; a blur of 0.5 pixel cut off at half makes 0.4
constexpr double kClear = 10.0;      // standard deviations of noise: smaller steps tell nothing
constexpr double kStep = 0.15;  // of white, likewise: overexposed ground has patches as well, with noise beside them
constexpr double kTold = 0.5;   // of the border must have such a step: marks are drawn to be seen

template <class Sample>
bool is_flat(const ImageView& image, int x, int y) {
  const Sample* row = image.row<Sample>(y);
  return row[x] == row[x + 1] && row[x] == image.row<Sample>(y + 1)[x];
}

// Which values flat places have far more often than the values beside these; none: empty.
template <class Sample>
std::vector<bool> drawn_values(const ImageView& image) {
  std::vector<int> counts(std::size_t{std::numeric_limits<Sample>::max()} + 1);
  const int step = std::max(1, static_cast<int>(static_cast<double>(image.width) * image.height / kSampled));
  for (int y = 0; y + 1 < image.height; y += step)
    for (int x = 0; x + 1 < image.width; ++x)
      if (is_flat<Sample>(image, x, y)) ++counts[image.row<Sample>(y)[x]];
  std::vector<bool> drawn(counts.size(), false);
  bool any = false;
  for (std::size_t v = 0; v < counts.size(); ++v) {
    const int below = v > 0 ? counts[v - 1] : 0, above = v + 1 < counts.size() ? counts[v + 1] : 0;
    drawn[v] = counts[v] > kLeastFlat + kStandsOut * std::max(below, above);
    any = any || drawn[v];
  }
  return any ? drawn : std::vector<bool>();
}

// Samples of such values in flat places and beside them.
template <class Sample>
cv::Mat patches_of(const ImageView& image, const std::vector<bool>& drawn) {
  cv::Mat patches(image.height, image.width, CV_8U, cv::Scalar(0));
  for (int y = 0; y + 1 < image.height; ++y)
    for (int x = 0; x + 1 < image.width; ++x)
      if (drawn[image.row<Sample>(y)[x]] && is_flat<Sample>(image, x, y)) patches.at<std::uint8_t>(y, x) = 255;
  cv::dilate(patches, patches, cv::Mat::ones(3, 3, CV_8U));
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x)
      if (!drawn[image.row<Sample>(y)[x]]) patches.at<std::uint8_t>(y, x) = 0;
  return patches;
}

struct Border {
  int all = 0, told = 0, sharp = 0;  // places; with a clear step; where it is made within a pixel
};

template <class Sample>
std::vector<Border> borders_of(const ImageView& image, const cv::Mat& labels, std::size_t count, double noise) {
  std::vector<Border> borders(count);
  const auto look = [&](int x, int y, int dx, int dy) {
    const cv::Point two(x + 2 * dx, y + 2 * dy);
    if (two.x < 0 || two.y < 0 || two.x >= image.width || two.y >= image.height) return;
    if (labels.at<int>(y + dy, x + dx) != 0 || labels.at<int>(two) != 0) return;
    const double here = static_cast<double>(image.row<Sample>(y)[x]);
    const double next = std::abs(static_cast<double>(image.row<Sample>(y + dy)[x + dx]) - here);
    const double whole = std::abs(static_cast<double>(image.row<Sample>(two.y)[two.x]) - here);
    Border& border = borders[static_cast<std::size_t>(labels.at<int>(y, x))];
    ++border.all;
    if (std::max(next, whole) < std::max(kClear * noise, kStep * image.white)) return;
    ++border.told;
    border.sharp += next > kAtOnce * whole;
  };
  for (int y = 0; y < image.height; ++y) {
    const int* label = labels.ptr<int>(y);
    for (int x = 0; x < image.width; ++x) {
      if (label[x] == 0) continue;
      look(x, y, 1, 0), look(x, y, -1, 0), look(x, y, 0, 1), look(x, y, 0, -1);
    }
  }
  return borders;
}

template <class Sample>
DrawnMarks marks_in(const ImageView& image, double noise) {
  const std::vector<bool> drawn = drawn_values<Sample>(image);
  if (drawn.empty()) return {};
  cv::Mat mask = patches_of<Sample>(image, drawn);
  const Components parts = components_of(mask, 8);
  const std::vector<Border> borders = borders_of<Sample>(image, parts.labels, parts.list.size(), noise);
  std::vector<bool> kept(borders.size(), false);
  DrawnMarks marks;
  for (int i = 1; i <= parts.count(); ++i) {
    const Border& border = borders[static_cast<std::size_t>(i)];
    if (parts[i].area < kLeastSize || border.told == 0) continue;
    if (border.told < kTold * border.all || border.sharp < kSharp * border.told) continue;
    kept[static_cast<std::size_t>(i)] = true;
    ++marks.count;
  }
  if (marks.count == 0) return {};
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      if (!kept[static_cast<std::size_t>(parts.labels.at<int>(y, x))]) mask.at<std::uint8_t>(y, x) = 0;
  marks.mask = mask;
  return marks;
}

}  // namespace

DrawnMarks drawn_marks(const ImageView& image, double noise) {
  if (noise < kLeastNoise * image.white / 255.0) return {};
  if (image.type == SampleType::u8) return marks_in<std::uint8_t>(image, noise);
  if (image.type == SampleType::u16) return marks_in<std::uint16_t>(image, noise);
  return {};
}

}  // namespace scale
