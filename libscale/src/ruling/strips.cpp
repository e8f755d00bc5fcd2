#include "ruling/strips.h"

#include <algorithm>
#include <cmath>

#include <oneapi/tbb/parallel_for.h>

namespace scale {

namespace {

// Below this angle, in radians, a row stays in one strip over any picture we read.
constexpr double kNoTilt = 1e-9;

// The part [begin, end) of row y that belongs to v in [low, high).
struct Run {
  int begin = 0, end = 0;
};

Run run_of_row(double y, double low, double high, double angle, int width) {
  const double across = std::sin(angle), along = std::cos(angle) * y;
  if (std::abs(across) < kNoTilt) return along >= low && along < high ? Run{0, width} : Run{0, 0};
  double from = (along - high) / across, to = (along - low) / across;  // v falls with x when sin > 0
  if (from > to) std::swap(from, to);
  const auto clamp = [width](double x) {
    return static_cast<int>(std::clamp(std::ceil(x), 0.0, static_cast<double>(width)));
  };
  return {clamp(from), clamp(to)};
}

template <class Sample, class Sum>
void sum_one_strip(const ImageView& image, int strip, Strips& strips) {
  const StripLayout& layout = strips.layout;
  const std::size_t bins = static_cast<std::size_t>(strips.bins);
  const std::size_t phases = static_cast<std::size_t>(layout.phases);
  std::vector<Sum> sums(bins * phases, Sum{});
  std::vector<float> rows((bins + 1) * phases, 0.0F), remainders((bins + 1) * phases, 0.0F);
  const double low = layout.v0 + strip * layout.height, high = low + layout.height;
  const double corner = std::abs(std::sin(layout.angle)) * image.width;
  const double across = std::cos(layout.angle);
  const int first_row = std::max(0, static_cast<int>(std::floor((low - corner) / across)));
  const int last_row = std::min(image.height - 1, static_cast<int>(std::ceil((high + corner) / across)));
  for (int y = first_row; y <= last_row; ++y) {
    const Run run = run_of_row(y, low, high, layout.angle, image.width);
    if (run.end <= run.begin) continue;
    const double shift = strips.slope * y;
    const double rounded = std::floor(shift + 0.5);
    const double remainder = shift - rounded;  // in [-0.5, 0.5)
    const std::size_t phase =
        std::min(phases - 1, static_cast<std::size_t>((remainder + 0.5) * static_cast<double>(phases)));
    const std::ptrdiff_t offset = static_cast<std::ptrdiff_t>(rounded) - strips.first;
    Sum* target = sums.data() + phase * bins + offset;
    const Sample* source = image.row<Sample>(y);
    for (int x = run.begin; x < run.end; ++x) target[x] = static_cast<Sum>(target[x] + source[x]);
    const std::size_t edge = phase * (bins + 1);
    const auto step = [&](std::vector<float>& edges, float by) {
      edges[edge + static_cast<std::size_t>(run.begin + offset)] += by;
      edges[edge + static_cast<std::size_t>(run.end + offset)] -= by;
    };
    step(rows, 1.0F);
    step(remainders, static_cast<float>(remainder));
  }
  for (std::size_t phase = 0; phase < phases; ++phase) {
    const std::size_t out = strips.at(strip, static_cast<int>(phase));
    float count = 0.0F, remainder = 0.0F;
    for (std::size_t bin = 0; bin < bins; ++bin) {
      count += rows[phase * (bins + 1) + bin];
      remainder += remainders[phase * (bins + 1) + bin];
      strips.count[out + bin] = count;
      if (count < 0.5F) continue;
      strips.mean[out + bin] = static_cast<float>(sums[phase * bins + bin]) / count;
      strips.remainder[out + bin] = remainder / count;
    }
  }
}

}  // namespace

AlongRange along_range(const ImageView& image, double angle) {
  const double c = std::cos(angle), s = std::sin(angle), w = image.width - 1, h = image.height - 1;
  return {std::min({0.0, h * c, -w * s, h * c - w * s}), std::max({0.0, h * c, -w * s, h * c - w * s}) + 1e-6};
}

Strips sum_strips(const ImageView& image, const StripLayout& layout) {
  Strips strips;
  strips.layout = layout;
  strips.slope = std::tan(layout.angle);
  const double reach = strips.slope * (image.height - 1);
  strips.first = static_cast<int>(std::floor(std::min(0.0, reach))) - 1;
  strips.bins = image.width + static_cast<int>(std::ceil(std::abs(reach))) + 3;
  const std::size_t size = static_cast<std::size_t>(layout.count) * static_cast<std::size_t>(layout.phases) *
                           static_cast<std::size_t>(strips.bins);
  strips.mean.assign(size, 0.0F);
  strips.remainder.assign(size, 0.0F);
  strips.count.assign(size, 0.0F);
  oneapi::tbb::parallel_for(0, layout.count, [&](int strip) {
    switch (image.type) {
      case SampleType::u8:
        sum_one_strip<std::uint8_t, std::uint32_t>(image, strip, strips);
        break;
      case SampleType::u16:
        sum_one_strip<std::uint16_t, std::uint32_t>(image, strip, strips);
        break;
      case SampleType::f32:
        sum_one_strip<float, float>(image, strip, strips);
        break;
    }
  });
  return strips;
}

}  // namespace scale
