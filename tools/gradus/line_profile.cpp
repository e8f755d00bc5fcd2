#include "line_profile.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <opencv2/core.hpp>

namespace gradus {
namespace {

constexpr double kPitchesShown = 20.0;
constexpr double kHarmonicsShown = 6.0;
constexpr int kMostSamplesAcross = 200;   // more would not be seen in a chart
constexpr std::size_t kMostPoints = 900;  // of a line in a chart

double sample(const scale::ImageView& image, int x, int y) {
  const auto* row = static_cast<const std::byte*>(image.data) + y * image.row_bytes;
  switch (image.type) {
    case scale::SampleType::u8:
      return reinterpret_cast<const std::uint8_t*>(row)[x];
    case scale::SampleType::u16:
      return reinterpret_cast<const std::uint16_t*>(row)[x];
    case scale::SampleType::f32:
      return static_cast<double>(reinterpret_cast<const float*>(row)[x]);
  }
  return 0.0;
}

struct Span {
  double low = 0.0, high = 0.0;
};

// Where half of the lines reach, across the axis.
Span reach_across(const scale::Ruling& ruling, double cosine, double sine) {
  std::vector<double> low, high;
  for (const scale::Graduation& line : ruling.graduations) {
    const double a = -line.x1_px * sine + line.y1_px * cosine, b = -line.x2_px * sine + line.y2_px * cosine;
    low.push_back(std::min(a, b));
    high.push_back(std::max(a, b));
  }
  const auto middle = static_cast<std::ptrdiff_t>(low.size() / 2);
  std::nth_element(low.begin(), low.begin() + middle, low.end());
  std::nth_element(high.begin(), high.begin() + middle, high.end());
  return {low[static_cast<std::size_t>(middle)], high[static_cast<std::size_t>(middle)]};
}

// Mean at every whole pixel of the axis; NaN where the strip lies outside the picture.
std::vector<double> means(const scale::ImageView& image, double angle, Span along, Span across) {
  const double cosine = std::cos(angle), sine = std::sin(angle);
  const double step = std::max(1.0, (across.high - across.low) / kMostSamplesAcross);
  std::vector<double> profile;
  for (double t = along.low; t <= along.high; t += 1.0) {
    double sum = 0.0;
    int count = 0;
    for (double s = across.low; s <= across.high; s += step) {
      const int x = static_cast<int>(std::lround(t * cosine - s * sine));
      const int y = static_cast<int>(std::lround(t * sine + s * cosine));
      if (x < 0 || y < 0 || x >= image.width || y >= image.height) continue;
      sum += sample(image, x, y);
      ++count;
    }
    profile.push_back(count > 0 ? sum / count : profile.empty() ? 0.0 : profile.back());
  }
  return profile;
}

void add_spectrum(scale::LineProfile& result, const std::vector<double>& profile) {
  const int size = cv::getOptimalDFTSize(static_cast<int>(profile.size()));
  cv::Mat padded = cv::Mat::zeros(1, size, CV_64F);
  const double mean = cv::mean(profile)[0];
  const auto count = static_cast<double>(profile.size());
  for (std::size_t i = 0; i < profile.size(); ++i)
    padded.at<double>(0, static_cast<int>(i)) =
        (profile[i] - mean) * (0.5 - 0.5 * std::cos(2.0 * scale::kPi * (static_cast<double>(i) + 0.5) / count));
  cv::Mat spectrum;
  cv::dft(padded, spectrum, cv::DFT_COMPLEX_OUTPUT);
  const double last = std::min(0.5, kHarmonicsShown / result.pitch_px);
  const int bins = static_cast<int>(last * size);
  // Several frequencies in one point of the line: the largest, so that no peak is lost.
  const int together = std::max(1, bins / static_cast<int>(kMostPoints / 2));
  for (int first = 1; first + together <= bins; first += together) {
    double most = 0.0;
    int at = first;
    for (int bin = first; bin < first + together; ++bin) {
      const cv::Vec2d value = spectrum.at<cv::Vec2d>(0, bin);
      // A Hann window halves what a sine gives; a sine of amplitude a gives a n / 2.
      const double amplitude = 4.0 * std::hypot(value[0], value[1]) / count;
      if (amplitude > most) most = amplitude, at = bin;
    }
    result.frequency.push_back(static_cast<double>(at) / size);
    result.amplitude.push_back(most);
  }
}

}  // namespace

scale::LineProfile line_profile(const scale::ImageView& image, const scale::Ruling& ruling) {
  scale::LineProfile result;
  result.pitch_px = ruling.pitch_px;
  if (ruling.graduations.size() < 3 || !(ruling.pitch_px > 0.0)) return result;
  const double angle = ruling.direction.value;
  const Span along{std::round(ruling.graduations.front().position_px),
                   std::round(ruling.graduations.back().position_px)};
  const std::vector<double> profile =
      means(image, angle, along, reach_across(ruling, std::cos(angle), std::sin(angle)));
  if (profile.size() < 8) return result;
  add_spectrum(result, profile);
  const auto shown = std::min({profile.size(), kMostPoints, static_cast<std::size_t>(kPitchesShown * ruling.pitch_px)});
  const std::size_t first = (profile.size() - shown) / 2;
  for (std::size_t i = first; i < first + shown; ++i) {
    result.position_px.push_back(along.low + static_cast<double>(i));
    result.grey.push_back(profile[i]);
  }
  return result;
}

}  // namespace gradus
