#include "pictures.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>

#include "micrograph/classes.h"
#include "micrograph/random.h"
#include "micrograph/render.h"

namespace fuzz {
namespace {

using micrograph::Random;
using scale::SampleType;

constexpr int kMostSide = 4096;
constexpr int kMostPixels = 1 << 20;
constexpr std::size_t kHeader = 6;

std::size_t size_of_sample(SampleType type) { return type == SampleType::u8 ? 1 : type == SampleType::u16 ? 2 : 4; }

template <class Sample>
void put(Picture& picture, std::size_t at, double value) {
  const auto sample = static_cast<Sample>(value);
  std::memcpy(&picture.bytes[at * sizeof sample], &sample, sizeof sample);
}

// Fills every sample by value(index); integers are cut to their range.
template <class Value>
void fill(Picture& picture, const Value& value) {
  const std::size_t pixels = static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height);
  picture.bytes.resize(pixels * size_of_sample(picture.type));
  for (std::size_t i = 0; i < pixels; ++i) {
    const double v = value(i);
    if (picture.type == SampleType::u8) put<std::uint8_t>(picture, i, std::clamp(v, 0.0, 255.0));
    if (picture.type == SampleType::u16) put<std::uint16_t>(picture, i, std::clamp(v, 0.0, 65535.0));
    if (picture.type == SampleType::f32) put<float>(picture, i, std::clamp(v, -3e38, 3e38));
  }
}

Picture empty(const std::string& what, int width, int height, SampleType type) {
  Picture picture{what, {}, width, height, type, 1.0};
  if (type == SampleType::u8) picture.white = 255.0;
  if (type == SampleType::u16) picture.white = 65535.0;
  return picture;
}

SampleType any_type(Random& random) { return static_cast<SampleType>(random.integer(0, 2)); }

// Sizes at which something ends: a pixel, the least side, one over a power of two, ribbons.
Picture odd_size(const std::string& what, Random& random) {
  constexpr std::array<int, 18> kSides = {1, 2, 3, 5, 8, 16, 23, 24, 25, 31, 33, 64, 127, 257, 500, 1023, 2049, 4096};
  const int width = kSides[static_cast<std::size_t>(random.integer(0, 17))];
  int height = kSides[static_cast<std::size_t>(random.integer(0, 17))];
  if (width * height > kMostPixels / 4) height = random.chance(0.5) ? 3 : 24;
  const bool turned = random.chance(0.5);
  return empty(what, turned ? height : width, turned ? width : height, any_type(random));
}

Picture noise(Random& random) {
  Picture picture = odd_size("noise of odd size", random);
  const double top = picture.white;
  fill(picture, [&](std::size_t) { return top * random.uniform(); });
  return picture;
}

Picture constant(Random& random) {
  Picture picture = odd_size("constant", random);
  const double value = random.chance(0.3) ? 0.0 : random.chance(0.5) ? picture.white : picture.white * random.uniform();
  fill(picture, [&](std::size_t) { return value; });
  return picture;
}

Picture saturated(Random& random) {
  Picture picture = odd_size("saturated", random);
  const double share = random.uniform();
  fill(picture, [&](std::size_t) { return random.chance(share) ? picture.white : 0.0; });
  return picture;
}

// One random row repeated down the picture: what a projection sees, without the way to it.
Picture repeated_row(Random& random) {
  Picture picture = odd_size("one row repeated", random);
  std::vector<double> row(static_cast<std::size_t>(picture.width));
  const int period = random.integer(1, 40);
  const double jitter = random.chance(0.5) ? 0.0 : random.uniform();
  for (std::size_t x = 0; x < row.size(); ++x) {
    const bool line = static_cast<int>(x) % period < (period + 2) / 3;
    row[x] = picture.white * ((line ? 0.2 : 0.8) * (1.0 - jitter) + jitter * random.uniform());
  }
  const bool turned = random.chance(0.5);
  const auto width = static_cast<std::size_t>(picture.width);
  if (turned) std::swap(picture.width, picture.height);
  fill(picture,
       [&](std::size_t i) { return turned ? row[i / static_cast<std::size_t>(picture.width)] : row[i % width]; });
  return picture;
}

micrograph::Image rendered(Random& random) {
  const auto classes = micrograph::all_scene_classes();
  const auto picked = classes[static_cast<std::size_t>(random.integer(0, static_cast<int>(classes.size()) - 1))];
  micrograph::Scene scene = micrograph::random_scene(picked, random.bits() % 1000);
  scene.width = random.integer(30, 500);  // the scale stays where it was: much of it may be out of view
  scene.height = random.integer(30, 400);
  return micrograph::render(scene);
}

Picture crop_of_scale(Random& random) {
  const micrograph::Image image = rendered(random);
  const int width = random.integer(1, image.width), height = random.integer(1, image.height);
  const int left = random.integer(0, image.width - width), top = random.integer(0, image.height - height);
  Picture picture = empty("crop of a rendered scale", width, height, any_type(random));
  const double gain = picture.white / ((1 << image.bits) - 1) * (random.chance(0.2) ? 3.0 : 1.0);
  fill(picture, [&](std::size_t i) {
    const auto x = static_cast<int>(i) % width + left, y = static_cast<int>(i) / width + top;
    const std::size_t at = static_cast<std::size_t>(y) * image.width + x;
    return gain * image.samples[at * static_cast<std::size_t>(image.channels)];
  });
  return picture;
}

Picture huge_floats(Random& random) {
  const micrograph::Image image = rendered(random);
  Picture picture = empty("huge floats", image.width, image.height, SampleType::f32);
  const double factor = std::pow(10.0, random.uniform(-40.0, 38.0)) / 65535.0;
  const double offset = random.chance(0.5) ? 0.0 : factor * 1e5 * random.uniform(-1.0, 1.0);
  const double spikes = random.chance(0.3) ? 0.001 : 0.0;
  picture.white = factor * ((1 << image.bits) - 1) + offset;
  fill(picture, [&](std::size_t i) {
    if (random.chance(spikes)) return 3e38 * random.sign();
    return offset + factor * image.samples[i * static_cast<std::size_t>(image.channels)];
  });
  return picture;
}

Picture random_bytes(Random& random) {
  std::vector<std::uint8_t> bytes(static_cast<std::size_t>(random.integer(0, 3000)));
  for (auto& byte : bytes) byte = static_cast<std::uint8_t>(random.bits());
  return from_bytes(bytes);
}

}  // namespace

scale::ImageView Picture::view() const {
  const auto row = static_cast<std::ptrdiff_t>(size_of_sample(type)) * width;
  return {bytes.data(), width, height, row, type, white};
}

Picture from_bytes(std::span<const std::uint8_t> bytes) {
  const auto at = [&](std::size_t i) { return i < bytes.size() ? bytes[i] : std::uint8_t{0}; };
  const int width = 1 + (at(2) | at(3) << 8) % kMostSide;
  const int height = std::min(1 + (at(4) | at(5) << 8) % kMostSide, std::max(1, kMostPixels / width));
  Picture picture = empty("bytes", width, height, static_cast<SampleType>(at(0) % 3));
  const double factor = picture.type == SampleType::f32 ? std::pow(10.0, at(1) % 74 - 37) : picture.white / 255.0;
  picture.white = 255.0 * factor;
  const std::size_t samples = bytes.size() > kHeader ? bytes.size() - kHeader : 0;
  fill(picture, [&](std::size_t i) { return samples == 0 ? 0.0 : factor * bytes[kHeader + i % samples]; });
  return picture;
}

Picture from_seed(std::uint64_t seed, std::uint64_t number) {
  constexpr std::array kKinds = {noise, constant, saturated, repeated_row, crop_of_scale, huge_floats, random_bytes};
  Random random(seed, number);
  return kKinds[number % kKinds.size()](random);
}

}  // namespace fuzz
