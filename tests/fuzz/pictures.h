// Pictures nobody would take: from bytes, or from a seed.
#pragma once

#include <scale/image.h>

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace fuzz {

// Owns the samples of one picture.
struct Picture {
  std::string what;  // for people
  std::vector<std::byte> bytes;
  int width = 0, height = 0;
  scale::SampleType type = scale::SampleType::u8;
  double white = 255.0;

  scale::ImageView view() const;
};

// Six bytes of header (type, white, width and height as 16-bit little endian), the rest are samples, repeated when
// there are too few; up to 4096 x 4096 and a megapixel. Float samples come from the bytes as values 0 to 255 with a
// power of ten, never as bit patterns: readers refuse what is not a number.
Picture from_bytes(std::span<const std::uint8_t> bytes);

// A picture of the kind `number` picks in turn: odd sizes, lines that are as wide as the picture is, constant,
// saturated, huge floats, and crops of rendered scales.
Picture from_seed(std::uint64_t seed, std::uint64_t number);

}  // namespace fuzz
