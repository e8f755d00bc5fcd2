#include "picture.h"

namespace accuracy {
namespace {

/// Luminance at the picture's own depth, ITU-R BT.601 weights.
std::vector<std::uint16_t> deep_grey(const micrograph::Image& image) {
  if (image.channels == 1) return image.samples;
  std::vector<std::uint16_t> grey(image.pixels());
  for (std::size_t i = 0; i < grey.size(); ++i) {
    const std::uint16_t* rgb = &image.samples[3 * i];
    grey[i] = static_cast<std::uint16_t>(0.299 * rgb[0] + 0.587 * rgb[1] + 0.114 * rgb[2] + 0.5);
  }
  return grey;
}

}  // namespace

Picture::Picture(const micrograph::Image& image) : width_(image.width), height_(image.height), bits_(image.bits) {
  if (bits_ == 8) {
    bytes_ = micrograph::grey8(image);
  } else {
    words_ = deep_grey(image);
  }
}

scale::ImageView Picture::view() const {
  const double white = (1 << bits_) - 1;
  if (bits_ == 8) return {bytes_.data(), width_, height_, width_, scale::SampleType::u8, white};
  return {words_.data(), width_, height_, 2 * width_, scale::SampleType::u16, white};
}

}  // namespace accuracy
