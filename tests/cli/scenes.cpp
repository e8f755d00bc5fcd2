#include "scenes.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace cli_test {
namespace {

constexpr double kGround = 205.0, kDepth = 120.0, kLineDeviation = 1.6;

// Knuth's linear congruential generator (The Art of Computer Programming, vol. 2, MMIX).
class Noise {
 public:
  explicit Noise(std::uint64_t seed) : state_(seed * 2862933555777941757ULL + 3037000493ULL) {}
  // Sum of four uniform numbers: near enough to a Gaussian of standard deviation 1.2 grey values.
  double next() {
    double sum = -2.0;
    for (int i = 0; i < 4; ++i) sum += uniform();
    return sum * 2.0;
  }

 private:
  double uniform() {
    state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
    return static_cast<double>(state_ >> 11U) * 0x1p-53;
  }
  std::uint64_t state_;
};

using Samples = std::vector<unsigned char>;

unsigned char sample(double value) { return static_cast<unsigned char>(std::clamp(std::lround(value), 0L, 255L)); }

double line_depth(const Ruling& ruling, int x, int y) {
  const double n = std::round((x - ruling.first_px) / ruling.pitch_px);
  if (n < 0) return 0.0;
  const long index = std::lround(n);
  const double share = index % 10 == 0 ? 0.7 : index % 5 == 0 ? 0.55 : 0.4;
  const double top = 0.15 * ruling.height;
  if (y < top || y > top + share * ruling.height) return 0.0;
  const double distance = (x - ruling.first_px - n * ruling.pitch_px) / kLineDeviation;
  return kDepth * std::exp(-0.5 * distance * distance);
}

Samples ruling_samples(const Ruling& ruling) {
  Samples samples;
  Noise noise(ruling.noise_seed);
  for (int y = 0; y < ruling.height; ++y)
    for (int x = 0; x < ruling.width; ++x) samples.push_back(sample(kGround - line_depth(ruling, x, y) + noise.next()));
  return samples;
}

void put(std::string& bytes, std::uint32_t value, int count) {
  for (int i = 0; i < count; ++i) bytes += static_cast<char>(value >> (8U * static_cast<unsigned>(i)) & 255U);
}

std::string bmp(const Samples& samples, int width, int height, int channels) {
  const int colours = channels == 1 ? 256 : 0;
  const int row_bytes = (width * channels + 3) / 4 * 4;
  const int offset = 54 + 4 * colours;
  std::string bytes = "BM";
  put(bytes, static_cast<std::uint32_t>(offset + row_bytes * height), 4);
  put(bytes, 0, 4), put(bytes, static_cast<std::uint32_t>(offset), 4), put(bytes, 40, 4);
  put(bytes, static_cast<std::uint32_t>(width), 4), put(bytes, static_cast<std::uint32_t>(height), 4);
  put(bytes, 1, 2), put(bytes, static_cast<std::uint32_t>(8 * channels), 2), put(bytes, 0, 4);
  put(bytes, static_cast<std::uint32_t>(row_bytes * height), 4), put(bytes, 0, 4), put(bytes, 0, 4);
  put(bytes, static_cast<std::uint32_t>(colours), 4), put(bytes, 0, 4);
  for (int i = 0; i < colours; ++i) put(bytes, static_cast<std::uint32_t>(i * 0x10101), 4);
  for (int y = height - 1; y >= 0; --y) {
    const auto row = samples.begin() + static_cast<std::ptrdiff_t>(y) * width * channels;
    bytes.append(row, row + static_cast<std::ptrdiff_t>(width) * channels);
    bytes.append(static_cast<std::size_t>(row_bytes - width * channels), '\0');
  }
  return bytes;
}

}  // namespace

std::string ruling_bmp(const Ruling& ruling) { return bmp(ruling_samples(ruling), ruling.width, ruling.height, 1); }

std::string scales_bmp(const std::vector<Scale>& scales, int width, int height) {
  Samples samples;
  Noise noise(7);
  const auto depth = [&](int x, int y) {
    double sum = 0.0;
    for (const Scale& scale : scales) {
      const double n = std::round((x - scale.first_px) / scale.pitch_px);
      const long index = std::lround(n);
      const double length = index % 10 == 0 ? 110.0 : index % 5 == 0 ? 90.0 : 70.0;
      if (index < 0 || index >= scale.count || y < scale.top_px || y > scale.top_px + length) continue;
      const double distance = (x - scale.first_px - n * scale.pitch_px) / 1.2;
      sum += kDepth * std::exp(-0.5 * distance * distance);
    }
    return sum;
  };
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) samples.push_back(sample(kGround - depth(x, y) + noise.next()));
  return bmp(samples, width, height, 1);
}

std::string blank_bmp(int width, int height) {
  Samples samples;
  Noise noise(3);
  for (int i = 0; i < width * height; ++i) samples.push_back(sample(kGround + noise.next()));
  return bmp(samples, width, height, 1);
}

std::string green_ruling_bmp(const Ruling& ruling) {
  Samples samples;
  Noise noise(5);
  for (const unsigned char green : ruling_samples(ruling)) {
    samples.push_back(sample(kGround + noise.next()));  // blue
    samples.push_back(green);
    samples.push_back(sample(kGround + noise.next()));  // red
  }
  return bmp(samples, ruling.width, ruling.height, 3);
}

}  // namespace cli_test
