#include "image/area_means.h"

#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/row_sums.h"

namespace scale {
namespace {

cv::Mat means_of_bytes(const cv::Mat& picture, int factor) {
  cv::Mat means(picture.rows / factor, picture.cols / factor, CV_8U);
  const float share = 1.0F / static_cast<float>(factor * factor);
  std::vector<std::uint32_t> sums(static_cast<std::size_t>(means.cols) * static_cast<std::size_t>(factor));
  for (int y = 0; y < means.rows; ++y) {
    std::fill(sums.begin(), sums.end(), 0U);
    for (int row = y * factor; row < (y + 1) * factor; ++row)
      add_row(picture.ptr<std::uint8_t>(row), sums.size(), sums.data());
    const std::uint32_t* next = sums.data();
    std::uint8_t* out = means.ptr<std::uint8_t>(y);
    for (int x = 0; x < means.cols; ++x) {
      std::uint32_t sum = 0;
      for (int i = 0; i < factor; ++i) sum += *next++;
      out[x] = cv::saturate_cast<std::uint8_t>(static_cast<float>(sum) * share);
    }
  }
  return means;
}

}  // namespace

cv::Mat area_means(const cv::Mat& picture, int factor) {
  if (picture.type() == CV_8U) return means_of_bytes(picture, factor);
  const cv::Size size(picture.cols / factor, picture.rows / factor);
  cv::Mat means;
  cv::resize(picture(cv::Rect(0, 0, size.width * factor, size.height * factor)), means, size, 0, 0, cv::INTER_AREA);
  return means;
}

}  // namespace scale
