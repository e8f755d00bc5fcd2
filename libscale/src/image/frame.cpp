#include "image/frame.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace scale {

namespace {

// Norm of the 3 x 3 kernel [1 -2 1; -2 4 -2; 1 -2 1].
constexpr double kMixedDifferenceNorm = 6.0;
constexpr int kMostSamples = 60'000;

template <class Sample>
FrameStatistics statistics_of(const ImageView& image) {
  FrameStatistics result;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(image.width) * image.height /
                                                            static_cast<double>(kMostSamples))));
  std::vector<float> values, differences;
  std::size_t saturated = 0;
  for (int y = 1; y + 1 < image.height; y += stride) {
    const Sample* above = image.row<Sample>(y - 1);
    const Sample* here = image.row<Sample>(y);
    const Sample* below = image.row<Sample>(y + 1);
    for (int x = 1; x + 1 < image.width; x += stride) {
      const float value = static_cast<float>(here[x]);
      values.push_back(value);
      const bool clipped = value <= 0.0F || static_cast<double>(value) >= image.white;
      saturated += clipped;
      if (clipped) continue;  // a clipped sample has no noise to show
      const auto second = [x](const Sample* row) {
        return static_cast<float>(row[x - 1]) - 2.0F * static_cast<float>(row[x]) + static_cast<float>(row[x + 1]);
      };
      differences.push_back(std::abs(second(above) - 2.0F * second(here) + second(below)));
    }
  }
  if (values.empty()) return result;
  result.saturated_share = static_cast<double>(saturated) / static_cast<double>(values.size());
  const auto quantile = [&values](double share) {
    const auto at = values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), at, values.end());
    return static_cast<double>(*at);
  };
  result.low = quantile(0.005);
  result.high = quantile(0.995);
  if (!differences.empty()) {
    const auto middle = differences.begin() + static_cast<std::ptrdiff_t>(differences.size() / 2);
    std::nth_element(differences.begin(), middle, differences.end());
    result.noise = 1.4826 * static_cast<double>(*middle) / kMixedDifferenceNorm;
  }
  return result;
}

}  // namespace

FrameStatistics frame_statistics(const ImageView& image) {
  switch (image.type) {
    case SampleType::u8:
      return statistics_of<std::uint8_t>(image);
    case SampleType::u16:
      return statistics_of<std::uint16_t>(image);
    case SampleType::f32:
      return statistics_of<float>(image);
  }
  return {};
}

bool within_range(const ImageView& image) {
  if (image.type != SampleType::f32) return true;
  constexpr float kMost = 1e9F;
  for (int y = 0; y < image.height; ++y) {
    const float* row = image.row<float>(y);
    if (!std::all_of(row, row + image.width, [](float v) { return std::abs(v) <= kMost; })) return false;
  }
  return true;
}

cv::Mat as_mat(const ImageView& image) {
  const int type = image.type == SampleType::u8 ? CV_8UC1 : image.type == SampleType::u16 ? CV_16UC1 : CV_32FC1;
  return {image.height, image.width, type, const_cast<void*>(image.data), static_cast<std::size_t>(image.row_bytes)};
}

ImageView as_view(const cv::Mat& samples, double white) {
  const SampleType type = samples.depth() == CV_8U    ? SampleType::u8
                          : samples.depth() == CV_16U ? SampleType::u16
                                                      : SampleType::f32;
  return {samples.data, samples.cols, samples.rows, static_cast<std::ptrdiff_t>(samples.step), type, white};
}

}  // namespace scale
