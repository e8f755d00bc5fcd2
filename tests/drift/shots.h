// Rendered check shots, each unchanged and again with its scale changed by a stated number of standard uncertainties.
#pragma once

#include <cstdint>

namespace drift_test {

struct ShotCounts {
  int unchanged = 0, accused = 0;  // shots, and how many of them were called drifted
  int changed = 0, found = 0;
  int lost = 0;          // shots in which no scale was found
  double squares = 0.0;  // of change / standard uncertainty over the unchanged ones
  int alerts = 0;        // rooms whose chart of the unchanged ones, by the budget, raised one

  ShotCounts& operator+=(const ShotCounts& more);
};

// One room: four calibration shots and `checks` check shots, every component of the budget drawn at random.
ShotCounts check_shots(std::uint64_t seed, int checks, double uncertainties);

}  // namespace drift_test
