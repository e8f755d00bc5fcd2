#include "images/white.h"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <limits>
#include <span>

namespace images {
namespace {

template <class Sample>
std::span<const Sample> samples_of(const Picture& picture) {
  return {reinterpret_cast<const Sample*>(picture.samples.data()), picture.samples.size() / sizeof(Sample)};
}

struct Extent {
  unsigned largest = 0;
  unsigned bits_used = 0;  // the samples, or-ed
};

Extent extent_of(std::span<const std::uint16_t> samples) {
  std::uint16_t largest = 0;
  std::uint16_t used = 0;
  for (const std::uint16_t sample : samples) {
    largest = std::max(largest, sample);
    used = static_cast<std::uint16_t>(used | sample);
  }
  return {largest, used};
}

void set_white(Picture& picture, unsigned white, const std::string& reason) {
  picture.white = white;
  picture.facts.white_reason = reason;
}

// A largest sample in the upper half of a camera's range is taken as that range. Below the half it may as well
// be a dark picture of more bits; then 65535 does no harm, because no sample comes near any white.
void decide_16_bit(Picture& picture, std::optional<unsigned> stated) {
  const Extent extent = extent_of(samples_of<std::uint16_t>(picture));
  const std::string largest = "largest sample " + std::to_string(extent.largest);
  if (stated && extent.largest <= *stated) {
    return set_white(picture, *stated, "stated by the file");
  }
  for (const unsigned white : {1023U, 4095U, 16383U}) {
    if (extent.largest <= white && extent.largest > white / 2) {
      return set_white(picture, white, largest + ": right-aligned data of fewer than 16 bits");
    }
  }
  for (const int empty_bits : {8, 6, 4, 2}) {
    if (extent.largest > 32767U && std::countr_zero(extent.bits_used) >= empty_bits) {
      const unsigned white = 65535U >> empty_bits << empty_bits;
      return set_white(picture, white, "the last " + std::to_string(empty_bits) + " bits are never used");
    }
  }
  set_white(picture, 65535U, largest + " of 16 bits");
}

bool decide_float(Picture& picture) {
  constexpr std::uint32_t kExponent = 0x7F80'0000U;  // all ones: NaN or infinity (IEEE 754)
  float largest = -std::numeric_limits<float>::infinity();
  bool finite = true;
  for (const float sample : samples_of<float>(picture)) {
    largest = std::max(largest, sample);
    finite &= (std::bit_cast<std::uint32_t>(sample) & kExponent) != kExponent;
  }
  if (!finite) return false;
  picture.white = static_cast<double>(largest);
  picture.facts.white_reason = "the largest sample of a float picture";
  return true;
}

}  // namespace

bool decide_white(Picture& picture, std::optional<unsigned> stated) {
  switch (picture.type) {
    case scale::SampleType::u8:
      set_white(picture, 255U, "8 bits");
      return true;
    case scale::SampleType::u16:
      decide_16_bit(picture, stated);
      return true;
    case scale::SampleType::f32:
      break;
  }
  return decide_float(picture);
}

}  // namespace images
