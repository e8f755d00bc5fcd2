#include <scale/drift.h>

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <stdexcept>

#include "numeric/robust.h"

namespace scale {
namespace {

constexpr int kLeastSide = 256;
// A peak over the middle of its neighbourhood in power; measured: the largest of untouched pictures stays below 12.
constexpr double kPeak = 25.0;
constexpr int kNeighbours = 24;
constexpr double kLowest = 0.02;  // cycles per pixel; below lies what light and specimen do
constexpr double kHalf = 0.49;    // demosaicing and sharpening repeat every other pixel
constexpr double kJpegApart = 0.004;
constexpr double kFloor = 0.25;  // grey values: a flat sky of equal samples has no logarithm

// Mean over rows of log |second difference| at each column.
template <class Sample>
std::vector<double> variation_along(const ImageView& image, bool rows) {
  const int length = rows ? image.width : image.height, count = rows ? image.height : image.width;
  std::vector<double> sum(static_cast<std::size_t>(length - 2), 0.0);
  const auto at = [&](int across, int along) {
    return static_cast<double>(rows ? image.row<Sample>(across)[along] : image.row<Sample>(along)[across]);
  };
  const int step = std::max(1, count / 1024);  // a thousand rows tell what there is to tell
  int used = 0;
  for (int across = 0; across < count; across += step, ++used)
    for (int along = 1; along + 1 < length; ++along)
      sum[along - 1] +=
          std::log(kFloor + std::abs(at(across, along - 1) - 2.0 * at(across, along) + at(across, along + 1)));
  for (double& value : sum) value /= used;
  return sum;
}

std::vector<double> variation(const ImageView& image, bool rows) {
  switch (image.type) {
    case SampleType::u8:
      return variation_along<std::uint8_t>(image, rows);
    case SampleType::u16:
      return variation_along<std::uint16_t>(image, rows);
    case SampleType::f32:
      break;
  }
  return variation_along<float>(image, rows);
}

// Power over the local median at each frequency, so that what changes slowly with it is taken out.
std::vector<double> whitened_power(std::vector<double> values) {
  double mean = 0.0;
  for (const double value : values) mean += value / static_cast<double>(values.size());
  const auto n = static_cast<double>(values.size());
  for (std::size_t i = 0; i < values.size(); ++i)
    values[i] = (values[i] - mean) * (0.5 - 0.5 * std::cos(2.0 * CV_PI * (static_cast<double>(i) + 0.5) / n));
  cv::Mat spectrum;
  cv::dft(cv::Mat(1, static_cast<int>(values.size()), CV_64F, values.data()), spectrum, cv::DFT_COMPLEX_OUTPUT);
  std::vector<double> power(values.size() / 2);
  for (std::size_t i = 0; i < power.size(); ++i) {
    const auto& c = spectrum.at<cv::Vec2d>(0, static_cast<int>(i));
    power[i] = c[0] * c[0] + c[1] * c[1];
  }
  std::vector<double> white(power.size(), 0.0);
  for (std::size_t i = kNeighbours; i + kNeighbours < power.size(); ++i) {
    const std::span<const double> around(power.data() + i - kNeighbours, 2 * kNeighbours + 1);
    const double middle = numeric::median(around);
    white[i] = middle > 0.0 ? power[i] / middle : 0.0;
  }
  return white;
}

bool may_be_jpeg(double frequency) { return std::abs(frequency - std::round(frequency * 8.0) / 8.0) < kJpegApart; }

std::vector<double> peaks_of(const std::vector<double>& white) {
  std::vector<double> peaks;
  const double n = 2.0 * static_cast<double>(white.size());
  for (std::size_t i = 1; i + 1 < white.size(); ++i) {
    const double frequency = static_cast<double>(i) / n;
    if (white[i] < kPeak || white[i] < white[i - 1] || white[i] < white[i + 1]) continue;
    if (frequency > kLowest && frequency < kHalf && !may_be_jpeg(frequency)) peaks.push_back(frequency);
  }
  return peaks;
}

}  // namespace

std::vector<double> find_rescaling(const ImageView& image) {
  if (image.data == nullptr) throw std::invalid_argument("find_rescaling: there is no image");
  if (image.width < kLeastSide || image.height < kLeastSide) return {};
  const std::vector<double> along_rows = peaks_of(whitened_power(variation(image, true)));
  const std::vector<double> along_columns = peaks_of(whitened_power(variation(image, false)));
  const double apart = 1.5 / image.width + 1.5 / image.height;
  std::vector<double> both;
  for (const double frequency : along_rows)
    if (std::any_of(along_columns.begin(), along_columns.end(),
                    [&](double other) { return std::abs(other - frequency) < apart; }))
      both.push_back(frequency);
  return both;
}

}  // namespace scale
