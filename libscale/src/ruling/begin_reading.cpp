#include "ruling/begin_reading.h"

#include <stdexcept>

namespace scale {

Beginning begin_reading(const ImageView& image, const RulingOptions& options) {
  if (image.data == nullptr || image.width < 1 || image.height < 1)
    throw std::invalid_argument("find_rulings: an image with pixels is needed");
  if (!(options.false_alarm_limit > 0.0))
    throw std::invalid_argument("find_rulings: false_alarm_limit must be positive");
  Beginning begun;
  Reading& reading = begun.reading;
  reading.width = image.width;
  reading.height = image.height;
  if (image.width < kLeastSide || image.height < kLeastSide) {
    reading.failure = Failure{"frame", "too-small", "the picture is smaller than 24 x 24 pixels"};
  } else if (!within_range(image)) {
    reading.failure = Failure{"frame", "no-ruling",
                              "the picture holds samples that are not finite or beyond 1e9; scale its values down"};
  } else {
    begun.statistics = frame_statistics(image);
    reading.noise = begun.statistics.noise;
    reading.saturated_share = begun.statistics.saturated_share;
  }
  return begun;
}

}  // namespace scale
