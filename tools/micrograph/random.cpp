#include "micrograph/random.h"

#include <array>
#include <cmath>

namespace micrograph {
namespace {

std::uint64_t splitmix64(std::uint64_t& state) {
  std::uint64_t z = (state += 0x9e3779b97f4a7c15ULL);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return z ^ (z >> 31);
}

std::uint64_t rotate_left(std::uint64_t value, int count) { return (value << count) | (value >> (64 - count)); }

constexpr int kLayers = 128;
constexpr double kTail = 3.442619855899;            // start of the tail for 128 layers (Doornik 2005)
constexpr double kLayerArea = 9.91256303526217e-3;  // area of each layer, likewise

struct Ziggurat {
  std::array<double, kLayers + 1> x;
  std::array<double, kLayers> ratio;
};

// Layers of equal area under exp(-x^2/2): J. A. Doornik, "An improved ziggurat method to generate normal random
// samples" (2005).
Ziggurat make_ziggurat() {
  Ziggurat z{};
  double f = std::exp(-0.5 * kTail * kTail);
  z.x[0] = kLayerArea / f;
  z.x[1] = kTail;
  for (int i = 2; i < kLayers; ++i) {
    z.x[i] = std::sqrt(-2.0 * std::log(kLayerArea / z.x[i - 1] + f));
    f = std::exp(-0.5 * z.x[i] * z.x[i]);
  }
  z.x[kLayers] = 0.0;
  for (int i = 0; i < kLayers; ++i) z.ratio[i] = z.x[i + 1] / z.x[i];
  return z;
}

const Ziggurat kZiggurat = make_ziggurat();

constexpr double kSmallMean = 30.0;  // below it, counting by products of uniforms is exact and quick enough

}  // namespace

Random::Random(std::uint64_t seed, std::uint64_t stream) {
  std::uint64_t mixed = stream;
  std::uint64_t state = seed ^ splitmix64(mixed);
  for (auto& word : state_) word = splitmix64(state);
}

std::uint64_t Random::bits() {
  const std::uint64_t result = rotate_left(state_[0] + state_[3], 23) + state_[0];
  const std::uint64_t shifted = state_[1] << 17;
  state_[2] ^= state_[0];
  state_[3] ^= state_[1];
  state_[1] ^= state_[2];
  state_[0] ^= state_[3];
  state_[2] ^= shifted;
  state_[3] = rotate_left(state_[3], 45);
  return result;
}

double Random::uniform() { return static_cast<double>(bits() >> 11) * 0x1.0p-53; }
double Random::uniform(double low, double high) { return low + (high - low) * uniform(); }
double Random::log_uniform(double low, double high) { return low * std::exp(std::log(high / low) * uniform()); }
int Random::integer(int low, int high) { return low + static_cast<int>(uniform() * (high - low + 1)); }
bool Random::chance(double probability) { return uniform() < probability; }

double Random::normal_tail(bool negative) {
  double x = 0.0;
  double y = 0.0;
  do {
    x = std::log(1.0 - uniform()) / kTail;
    y = std::log(1.0 - uniform());
  } while (-2.0 * y < x * x);
  return negative ? x - kTail : kTail - x;
}

double Random::normal() {
  for (;;) {
    const std::uint64_t word = bits();
    const int layer = static_cast<int>(word & 0x7f);
    const double u = 2.0 * static_cast<double>(word >> 11) * 0x1.0p-53 - 1.0;
    if (std::abs(u) < kZiggurat.ratio[layer]) return u * kZiggurat.x[layer];
    if (layer == 0) return normal_tail(u < 0.0);
    const double x = u * kZiggurat.x[layer];
    const double f0 = std::exp(-0.5 * (kZiggurat.x[layer] * kZiggurat.x[layer] - x * x));
    const double f1 = std::exp(-0.5 * (kZiggurat.x[layer + 1] * kZiggurat.x[layer + 1] - x * x));
    if (f1 + uniform() * (f0 - f1) < 1.0) return x;
  }
}

double Random::poisson(double mean) {
  if (mean <= 0.0) return 0.0;
  if (mean < kSmallMean) {
    const double limit = std::exp(-mean);
    double product = uniform();
    int count = 0;
    while (product > limit) {
      product *= uniform();
      ++count;
    }
    return count;
  }
  // First Cornish-Fisher correction: mean and variance right, skewness to first order; the error of the
  // distribution function is below 0.002 at the mean of 30 where this branch begins.
  const double z = normal();
  const double value = std::floor(mean + std::sqrt(mean) * z + (z * z - 1.0) / 6.0 + 0.5);
  return value > 0.0 ? value : 0.0;
}

}  // namespace micrograph
