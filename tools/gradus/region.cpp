#include "region.h"

namespace gradus {
namespace {

std::string rectangle_words(const cv::Rect& r) {
  return std::to_string(r.x) + ',' + std::to_string(r.y) + ',' + std::to_string(r.width) + ',' +
         std::to_string(r.height);
}

}  // namespace

std::optional<scale::Failure> region_failure(const std::optional<cv::Rect>& region, int width, int height,
                                             const std::string& next_step) {
  const cv::Rect whole(0, 0, width, height);
  if (!region || (*region & whole) == *region) return std::nullopt;
  return scale::Failure{"frame", "region-outside",
                        "the region " + rectangle_words(*region) + " reaches beyond the picture's " +
                            std::to_string(width) + " x " + std::to_string(height) + " pixels; " + next_step};
}

}  // namespace gradus
