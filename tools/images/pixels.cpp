#include "images/pixels.h"

#include <algorithm>
#include <cstdint>
#include <type_traits>

namespace images {
namespace {

template <class Sample>
void luminance_row(const PixelRow& row, Sample* out) {
  const auto* red = static_cast<const Sample*>(row.red);
  const auto* green = static_cast<const Sample*>(row.green);
  const auto* blue = static_cast<const Sample*>(row.blue);
  for (std::ptrdiff_t i = 0; i < row.width; ++i) {
    const std::ptrdiff_t at = i * row.step;
    if constexpr (std::is_floating_point_v<Sample>) {
      const double sum = 0.299 * static_cast<double>(red[at]) + 0.587 * static_cast<double>(green[at]) +
                         0.114 * static_cast<double>(blue[at]);
      out[i] = static_cast<Sample>(sum);
    } else {
      out[i] = static_cast<Sample>(luminance(red[at], green[at], blue[at]));
    }
  }
}

template <class Sample>
void take(const PixelRow& row, Channel channel, void* out) {
  auto* samples = static_cast<Sample*>(out);
  if (row.green != nullptr && channel == Channel::luminance) return luminance_row(row, samples);
  const void* chosen = row.red;
  if (row.green != nullptr && channel == Channel::green) chosen = row.green;
  if (row.green != nullptr && channel == Channel::blue) chosen = row.blue;
  const auto* from = static_cast<const Sample*>(chosen);
  if (row.step == 1) {
    std::copy_n(from, row.width, samples);
    return;
  }
  for (std::ptrdiff_t i = 0; i < row.width; ++i) samples[i] = from[i * row.step];
}

template <class Sample>
bool opaque(const void* alpha, std::ptrdiff_t step, int width, Sample full) {
  const auto* samples = static_cast<const Sample*>(alpha);
  bool all = true;
  for (std::ptrdiff_t i = 0; i < width; ++i) all &= samples[i * step] >= full;
  return all;
}

}  // namespace

unsigned luminance(unsigned red, unsigned green, unsigned blue) {
  return (299U * red + 587U * green + 114U * blue + 500U) / 1000U;
}

PixelRow interleaved(const void* samples, int channels, bool grey, int width, scale::SampleType type) {
  const auto* first = static_cast<const std::byte*>(samples);
  const std::size_t bytes = sample_bytes(type);
  if (grey) return {samples, nullptr, nullptr, channels, width, type};
  return {samples, first + bytes, first + 2 * bytes, channels, width, type};
}

void take_channel(const PixelRow& row, Channel channel, void* out) {
  switch (row.type) {
    case scale::SampleType::u8:
      return take<std::uint8_t>(row, channel, out);
    case scale::SampleType::u16:
      return take<std::uint16_t>(row, channel, out);
    case scale::SampleType::f32:
      return take<float>(row, channel, out);
  }
}

bool all_opaque(const void* alpha, std::ptrdiff_t step, int width, scale::SampleType type, unsigned full) {
  switch (type) {
    case scale::SampleType::u8:
      return opaque(alpha, step, width, static_cast<std::uint8_t>(full));
    case scale::SampleType::u16:
      return opaque(alpha, step, width, static_cast<std::uint16_t>(full));
    case scale::SampleType::f32:
      break;
  }
  return opaque(alpha, step, width, 1.0F);
}

}  // namespace images
