#include <limits>
#include <type_traits>

#include "specimen/edges.h"

namespace scale {
namespace {

// From a sample to its right neighbour; whole numbers are subtracted as such, which is exact and saves a conversion.
template <class Sample>
double rise(const Sample* at) {
  if constexpr (std::is_integral_v<Sample>)
    return static_cast<double>(static_cast<int>(at[1]) - static_cast<int>(at[0]));
  else
    return static_cast<double>(at[1]) - static_cast<double>(at[0]);
}

}  // namespace

template <class Sample>
void Relief::sampled(cv::Point2d from, cv::Point2d step, int count, float* values) const {
  // One level of ground for the whole profile, taken at its outer end: what ground would be under a body is a guess,
  // and a slope in it would move the edge.
  const cv::Point2d to = from + step * (count - 1);
  const double ground = ground_.at(to.x, to.y);
  // Profiles are short against the field: where both ends are within it, all of it is.
  const bool beyond = ground_.outside(from.x, from.y) || ground_.outside(to.x, to.y);
  const double sign = dark_ ? -1.0 : 1.0;
  const auto within = [&](const cv::Point2d& at) {
    return at.x >= 0.0 && at.y >= 0.0 && at.x < image_.width - 1.0 && at.y < image_.height - 1.0;
  };
  // Between two ends in the frame all of a straight profile is.
  const bool all = !beyond && within(from) && within(to);
  for (int i = 0; i < count; ++i) {
    const double x = from.x + step.x * i, y = from.y + step.y * i;
    if (!all && (beyond || !within({x, y}))) {
      values[i] = std::numeric_limits<float>::quiet_NaN();
      continue;
    }
    const int ix = static_cast<int>(x), iy = static_cast<int>(y);
    const Sample* upper = image_.row<Sample>(iy) + ix;
    const Sample* lower = image_.row<Sample>(iy + 1) + ix;
    const double fx = x - ix, fy = y - iy;
    const double above = static_cast<double>(upper[0]) + fx * rise(upper);
    const double below = static_cast<double>(lower[0]) + fx * rise(lower);
    values[i] = static_cast<float>(sign * (above + fy * (below - above) - ground));
  }
}

void Relief::profile(cv::Point2d from, cv::Point2d step, int count, float* values) const {
  if (image_.type == SampleType::u8) return sampled<std::uint8_t>(from, step, count, values);
  if (image_.type == SampleType::u16) return sampled<std::uint16_t>(from, step, count, values);
  sampled<float>(from, step, count, values);
}

}  // namespace scale
