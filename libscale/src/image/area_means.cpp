#include "image/area_means.h"

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <opencv2/imgproc.hpp>
#include <vector>

#include <oneapi/tbb/parallel_for.h>

#include "image/row_sums.h"

namespace scale {
namespace {

constexpr int kStripe = 32;  // rows of the smaller picture

// Of squares of 4 x 4, four rows at once.
void means_of_fours(const cv::Mat& picture, cv::Mat& means) {
  std::vector<std::uint16_t> sums(static_cast<std::size_t>(means.cols) * 4);
  for (int y = 0; y < means.rows; ++y) {
    std::fill(sums.begin(), sums.end(), std::uint16_t{0});
    const auto row = [&](int i) { return picture.ptr<std::uint8_t>(4 * y + i); };
    add_rows({row(0), row(1), row(2), row(3)}, sums.size(), sums.data());
    std::uint8_t* out = means.ptr<std::uint8_t>(y);
    for (int x = 0; x < means.cols; ++x) {
      std::uint64_t four = 0;  // sums of columns, which the product adds up in its highest part
      std::memcpy(&four, &sums[static_cast<std::size_t>(x) * 4], sizeof four);
      const std::uint64_t sum = four * 0x0001'0001'0001'0001U >> 48U;
      out[x] = static_cast<std::uint8_t>((sum + 7U + (sum >> 4U & 1U)) >> 4U);  // a half to the even neighbour
    }
  }
}

void means_of_bytes(const cv::Mat& picture, int factor, cv::Mat& means) {
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
}

}  // namespace

cv::Mat area_means(const cv::Mat& picture, int factor) {
  cv::Mat means(picture.rows / factor, picture.cols / factor, picture.type());
  oneapi::tbb::parallel_for(0, (means.rows + kStripe - 1) / kStripe, [&](int stripe) {
    const int from = stripe * kStripe, to = std::min(means.rows, from + kStripe);
    const cv::Mat rows = picture.rowRange(from * factor, to * factor).colRange(0, means.cols * factor);
    cv::Mat out = means.rowRange(from, to);
    if (picture.type() == CV_8U && factor == 4)
      means_of_fours(rows, out);
    else if (picture.type() == CV_8U)
      means_of_bytes(rows, factor, out);
    else
      cv::resize(rows, out, out.size(), 0, 0, cv::INTER_AREA);
  });
  return means;
}

}  // namespace scale
