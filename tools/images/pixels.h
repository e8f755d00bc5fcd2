// From a row of pixels as a decoder gives it to a row of one channel. Internal.
#pragma once

#include <cstddef>

#include "images/read_image.h"

namespace images {

// Where the channels of a row lie: interleaved (step is the number of channels) or each in a row of its own
// (step 1). Grey rows have `red` alone.
struct PixelRow {
  const void* red = nullptr;
  const void* green = nullptr;
  const void* blue = nullptr;
  std::ptrdiff_t step = 1;
  int width = 0;
  scale::SampleType type = scale::SampleType::u8;
};

// Interleaved pixels with `channels` samples each, of which the first (grey) or first three (rgb) are used.
PixelRow interleaved(const void* samples, int channels, bool grey, int width, scale::SampleType type);

// Writes the chosen channel of `row` to `out`, row.width samples of row.type.
void take_channel(const PixelRow& row, Channel channel, void* out);

// Whether all of `width` samples, `step` apart, are `full` or more (float: 1 or more).
bool all_opaque(const void* alpha, std::ptrdiff_t step, int width, scale::SampleType type, unsigned full);

// Luminance of one pixel, rounded.
unsigned luminance(unsigned red, unsigned green, unsigned blue);

}  // namespace images
