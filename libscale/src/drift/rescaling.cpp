#include <scale/drift.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/core.hpp>
#include <stdexcept>
#include <type_traits>

#include "numeric/robust.h"

namespace scale {
namespace {

constexpr int kLeastSide = 256;
// A peak over the middle of its neighbourhood in power; measured: the largest of untouched pictures stays below 12.
constexpr double kPeak = 25.0;
constexpr double kPeakOfHalf = 10.0;  // by chance once in a thousand frequencies
// Of the mean light: noise alone is beyond it once in some hundred frequencies, which costs a trace and no accusation.
constexpr double kOfTheSpecimen = 9.0;
// Rounding to whole grey values after an interpolation leaves up to 0.08 of one in the mean light (measured); what is
// more lies on the specimen.
constexpr double kMoreThanRounding = 0.15;
// Of the coarse steps in the light, amplitude over mean. Measured: interpolation leaves 0.01 at most, as it spares what
// is wider than its kernel; squares and threads along the raster 0.04 to 1.7.
constexpr double kRepeats = 0.03;
constexpr int kNeighbours = 24;
constexpr double kLowest = 0.02;  // cycles per pixel; below lies what light and specimen do
constexpr double kHalf = 0.49;    // demosaicing and sharpening repeat every other pixel
constexpr double kJpegApart = 0.004;
// A flat sky of equal samples has no logarithm: a quarter of a grey value, of a float picture that of 255 steps.
constexpr double kFloor = 0.25;
constexpr int kReach = 2;         // samples to either side that a coarse step takes in
constexpr int kTogether = 8;      // lines whose mean has little noise left against the steps of a specimen
constexpr double kHalves = 2.0;   // of the lines, their means added up
constexpr int kMostGroups = 128;  // a thousand lines tell what there is to tell

// Along one direction of the picture, the mean over lines of log |second difference|, of the samples themselves, and
// of |coarse step|, the difference of two samples before and two after in the mean of neighbouring lines.
struct Means {
  std::vector<double> variation, light, steps;
};

template <class Sample>
void add_lines(const ImageView& image, bool rows, int first, Means& means) {
  const double floor = std::is_floating_point_v<Sample> ? kFloor * image.white / 255.0 : kFloor;
  const int length = rows ? image.width : image.height;
  const auto at = [&](int across, int along) {
    return static_cast<double>(rows ? image.row<Sample>(across)[along] : image.row<Sample>(along)[across]);
  };
  std::vector<double> mean(static_cast<std::size_t>(length), 0.0);
  for (int along = 0; along < length; ++along)
    for (int line = first; line < first + kTogether; ++line) mean[along] += at(line, along) / kTogether;
  for (int along = kReach; along + kReach < length; ++along) {
    const std::size_t place = along - kReach;
    for (int line = first; line < first + kTogether; ++line)
      means.variation[place] +=
          std::log(floor + std::abs(at(line, along - 1) - 2.0 * at(line, along) + at(line, along + 1)));
    means.light[place] += mean[along];
    means.steps[place] += std::abs(mean[along + 2] + mean[along + 1] - mean[along - 1] - mean[along - 2]);
  }
}

Means means_along(const ImageView& image, bool rows) {
  const std::size_t length = (rows ? image.width : image.height) - 2 * kReach;
  const int groups = (rows ? image.height : image.width) / kTogether;
  Means means{std::vector<double>(length, 0.0), std::vector<double>(length, 0.0), std::vector<double>(length, 0.0)};
  const int step = std::max(1, groups / kMostGroups);
  for (int group = 0; group < groups; group += step) {
    const int first = group * kTogether;
    switch (image.type) {
      case SampleType::u8:
        add_lines<std::uint8_t>(image, rows, first, means);
        break;
      case SampleType::u16:
        add_lines<std::uint16_t>(image, rows, first, means);
        break;
      case SampleType::f32:
        add_lines<float>(image, rows, first, means);
        break;
    }
  }
  const int taken = (groups + step - 1) / step;
  for (double& light : means.light) light /= taken;
  return means;
}

struct Spectrum {
  std::vector<double> white;  // power over the local median, so that what changes slowly with frequency is taken out
  std::vector<double> amplitude;  // of a wave of that frequency
  double mean = 0.0;              // of the values
};

Spectrum spectrum_of(std::vector<double> values) {
  Spectrum spectrum;
  const auto n = static_cast<double>(values.size());
  for (const double value : values) spectrum.mean += value / n;
  for (std::size_t i = 0; i < values.size(); ++i)
    values[i] = (values[i] - spectrum.mean) * (0.5 - 0.5 * std::cos(2.0 * CV_PI * (static_cast<double>(i) + 0.5) / n));
  cv::Mat transform;
  cv::dft(cv::Mat(1, static_cast<int>(values.size()), CV_64F, values.data()), transform, cv::DFT_COMPLEX_OUTPUT);
  std::vector<double> power(values.size() / 2);
  for (std::size_t i = 0; i < power.size(); ++i) {
    const auto& c = transform.at<cv::Vec2d>(0, static_cast<int>(i));
    power[i] = c[0] * c[0] + c[1] * c[1];
    spectrum.amplitude.push_back(4.0 * std::sqrt(power[i]) /
                                 n);  // the window keeps half of a wave, its bin half of that
  }
  spectrum.white.assign(power.size(), 0.0);
  for (std::size_t i = kNeighbours; i + kNeighbours < power.size(); ++i) {
    const std::span<const double> around(power.data() + i - kNeighbours, 2 * kNeighbours + 1);
    const double middle = numeric::median(around);
    spectrum.white[i] = middle > 0.0 ? power[i] / middle : 0.0;
  }
  return spectrum;
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

// Does the specimen itself repeat along this direction: tiles, threads, a grid? Then so do its edges, and with them
// the very trace, so that nothing could be told.
bool repeats(const Spectrum& steps) {
  const double n = 2.0 * static_cast<double>(steps.white.size());
  for (std::size_t i = 0; i < steps.white.size(); ++i)
    if (static_cast<double>(i) / n > kLowest && steps.white[i] > kPeak && steps.amplitude[i] > kRepeats * steps.mean)
      return true;
  return false;
}

// Both halves of the lines must show it by themselves: the raster of a resize spans the picture, a specimen seldom
// does. What repeats in the light itself lies on the specimen (cloth, grids, rulings): resampling leaves the mean light
// alone.
std::vector<double> peaks_along(const ImageView& image, bool rows, Trace trace) {
  const int w = image.width, h = image.height;
  Means whole = means_along(rows ? crop(image, 0, 0, w, h / 2) : crop(image, 0, 0, w / 2, h), rows);
  const Means rest =
      means_along(rows ? crop(image, 0, h / 2, w, h - h / 2) : crop(image, w / 2, 0, w - w / 2, h), rows);
  const std::vector<double> first = spectrum_of(whole.variation).white, second = spectrum_of(rest.variation).white;
  add(whole.variation, rest.variation);
  add(whole.light, rest.light);
  add(whole.steps, rest.steps);
  if (trace == Trace::proven && repeats(spectrum_of(whole.steps))) return {};
  const std::vector<double> white = spectrum_of(whole.variation).white;
  const Spectrum light = spectrum_of(whole.light);
  const double rounding = image.type == SampleType::f32 ? 0.0 : kHalves * kMoreThanRounding;
  const auto lies_on_the_specimen = [&](double frequency) {
    return near(light.white, frequency) >= kOfTheSpecimen && near(light.amplitude, frequency) > rounding;
  };
  std::vector<double> peaks;
  const double n = 2.0 * static_cast<double>(white.size());
  for (std::size_t i = 1; i + 1 < white.size(); ++i) {
    const double frequency = static_cast<double>(i) / n;
    if (white[i] < kPeak || white[i] < white[i - 1] || white[i] < white[i + 1]) continue;
    if (frequency < kLowest || frequency > kHalf || may_be_jpeg(frequency)) continue;
    if (std::min(near(first, frequency), near(second, frequency)) < kPeakOfHalf) continue;
    const bool explained = lies_on_the_specimen(frequency) || lies_on_the_specimen(0.5 * frequency);
    if (trace == Trace::possible || !explained) peaks.push_back(frequency);
  }
  return peaks;
}

}  // namespace

std::vector<double> find_rescaling(const ImageView& image, Trace trace) {
  if (image.data == nullptr) throw std::invalid_argument("find_rescaling: there is no image");
  if (image.width < kLeastSide || image.height < kLeastSide) return {};
  std::vector<double> along_rows = peaks_along(image, true, trace);
  const std::vector<double> along_columns = peaks_along(image, false, trace);
  if (trace == Trace::possible) {
    along_rows.insert(along_rows.end(), along_columns.begin(), along_columns.end());
    return along_rows;
  }
  const double apart = 1.5 / image.width + 1.5 / image.height;
  std::vector<double> both;
  for (const double frequency : along_rows)
    if (std::any_of(along_columns.begin(), along_columns.end(),
                    [&](double other) { return std::abs(other - frequency) < apart; }))
      both.push_back(frequency);
  return both;
}

}  // namespace scale
