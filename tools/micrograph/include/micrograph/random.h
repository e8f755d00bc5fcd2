// Random numbers that are the same on every platform: own generator, own distributions.
#pragma once

#include <cstdint>

namespace micrograph {

/// xoshiro256++ (Blackman and Vigna, "Scrambled linear pseudorandom number generators", ACM TOMS 47, 2021), its
/// state filled by splitmix64 from the seed.
class Random {
 public:
  explicit Random(std::uint64_t seed, std::uint64_t stream = 0);

  std::uint64_t bits();
  double uniform();  ///< in [0, 1), 53 bits
  double uniform(double low, double high);
  double log_uniform(double low, double high);  ///< low > 0
  int integer(int low, int high);               ///< both ends included
  bool chance(double probability);
  double sign() { return chance(0.5) ? 1.0 : -1.0; }
  double normal();  ///< mean 0, standard deviation 1
  double poisson(double mean);

 private:
  double normal_tail(bool negative);

  std::uint64_t state_[4];
};

}  // namespace micrograph
