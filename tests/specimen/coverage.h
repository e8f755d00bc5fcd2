// Does U of a width hold what it promises? Every component drawn at random.
#pragma once

#include <cstdint>

namespace specimen_test {

struct Coverage {
  int drawn = 0, covered = 0;
  double median_ratio = 0.0;  // of error over U
};

// Fibres of random width with a random error of the factor, offset of the true edge from the half level (shared by both
// edges), curve of grey values, blur, contrast and noise.
Coverage coverage_of_fibres(int count, std::uint64_t seed);

// The same for areas of grains.
Coverage coverage_of_grains(int count, std::uint64_t seed);

}  // namespace specimen_test
