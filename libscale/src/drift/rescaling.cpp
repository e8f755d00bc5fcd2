#include <scale/drift.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/core.hpp>
#include <stdexcept>

#include "numeric/robust.h"

namespace scale {
namespace {

constexpr int kLeastSide = 256;
// A peak over the middle of its neighbourhood in power; measured: the largest of untouched pictures stays below 12.
constexpr double kPeak = 25.0;
constexpr double kPeakOfHalf = 10.0;  // by chance once in a thousand frequencies
// Of the mean light: noise alone is beyond it once in some hundred frequencies, which costs a trace and no accusation.
constexpr double kOfTheSpecimen = 9.0;
constexpr int kNeighbours = 24;
constexpr double kLowest = 0.02;  // cycles per pixel; below lies what light and specimen do
constexpr double kHalf = 0.49;    // demosaicing and sharpening repeat every other pixel
constexpr double kJpegApart = 0.004;
constexpr double kFloor = 0.25;  // grey values: a flat sky of equal samples has no logarithm

// Along one direction of the picture: the mean over lines of log |second difference|, and of the samples themselves.
struct Means {
  std::vector<double> variation, light;
};

template <class Sample>
Means means_of(const ImageView& image, bool rows) {
  const int length = rows ? image.width : image.height, count = rows ? image.height : image.width;
  Means means{std::vector<double>(static_cast<std::size_t>(length - 2), 0.0),
              std::vector<double>(static_cast<std::size_t>(length - 2), 0.0)};
  const auto at = [&](int across, int along) {
    return static_cast<double>(rows ? image.row<Sample>(across)[along] : image.row<Sample>(along)[across]);
  };
  const int step = std::max(1, count / 1024);  // a thousand lines tell what there is to tell
  for (int across = 0; across < count; across += step)
    for (int along = 1; along + 1 < length; ++along) {
      const double here = at(across, along);
      means.light[along - 1] += here;
      means.variation[along - 1] +=
          std::log(kFloor + std::abs(at(across, along - 1) - 2.0 * here + at(across, along + 1)));
    }
  return means;
}

Means means_along(const ImageView& image, bool rows) {
  switch (image.type) {
    case SampleType::u8:
      return means_of<std::uint8_t>(image, rows);
    case SampleType::u16:
      return means_of<std::uint16_t>(image, rows);
    case SampleType::f32:
      break;
  }
  return means_of<float>(image, rows);
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

// The highest of the values within two bins of a frequency.
double near(const std::vector<double>& white, double frequency) {
  const auto middle = static_cast<std::ptrdiff_t>(std::lround(2.0 * frequency * static_cast<double>(white.size())));
  double most = 0.0;
  for (std::ptrdiff_t i = middle - 2; i <= middle + 2; ++i)
    if (i >= 0 && i < static_cast<std::ptrdiff_t>(white.size()))
      most = std::max(most, white[static_cast<std::size_t>(i)]);
  return most;
}

void add(std::vector<double>& sum, const std::vector<double>& more) {
  std::transform(sum.begin(), sum.end(), more.begin(), sum.begin(), std::plus<>());
}

// Both halves of the lines must show it by themselves: the raster of a resize spans the picture, a specimen seldom
// does. What repeats in the light itself lies on the specimen (cloth, grids, rulings): resampling leaves the mean light
// alone.
std::vector<double> peaks_along(const ImageView& image, bool rows) {
  const int w = image.width, h = image.height;
  Means whole = means_along(rows ? crop(image, 0, 0, w, h / 2) : crop(image, 0, 0, w / 2, h), rows);
  const Means rest =
      means_along(rows ? crop(image, 0, h / 2, w, h - h / 2) : crop(image, w / 2, 0, w - w / 2, h), rows);
  const std::vector<double> first = whitened_power(whole.variation), second = whitened_power(rest.variation);
  add(whole.variation, rest.variation);
  add(whole.light, rest.light);
  const std::vector<double> white = whitened_power(whole.variation), light = whitened_power(whole.light);
  std::vector<double> peaks;
  const double n = 2.0 * static_cast<double>(white.size());
  for (std::size_t i = 1; i + 1 < white.size(); ++i) {
    const double frequency = static_cast<double>(i) / n;
    if (white[i] < kPeak || white[i] < white[i - 1] || white[i] < white[i + 1]) continue;
    if (frequency < kLowest || frequency > kHalf || may_be_jpeg(frequency)) continue;
    if (std::min(near(first, frequency), near(second, frequency)) < kPeakOfHalf) continue;
    if (std::max(near(light, frequency), near(light, 0.5 * frequency)) < kOfTheSpecimen) peaks.push_back(frequency);
  }
  return peaks;
}

}  // namespace

std::vector<double> find_rescaling(const ImageView& image) {
  if (image.data == nullptr) throw std::invalid_argument("find_rescaling: there is no image");
  if (image.width < kLeastSide || image.height < kLeastSide) return {};
  const std::vector<double> along_rows = peaks_along(image, true);
  const std::vector<double> along_columns = peaks_along(image, false);
  const double apart = 1.5 / image.width + 1.5 / image.height;
  std::vector<double> both;
  for (const double frequency : along_rows)
    if (std::any_of(along_columns.begin(), along_columns.end(),
                    [&](double other) { return std::abs(other - frequency) < apart; }))
      both.push_back(frequency);
  return both;
}

}  // namespace scale
