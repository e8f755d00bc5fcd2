// A person at an eyepiece who reads two scales against each other, drawn at random.
//
// What is drawn: the true length of a division, the habit of reading, how well the zero lines are set together, the
// acuity with which two lines look like one (each pair its own), parallax of every reading, the error of an estimated
// fraction, the error of the micrometer. Nothing here shares code with the engine.
#pragma once

#include <scale/reticle.h>

#include <cstdint>
#include <string>
#include <vector>

namespace coverage {

struct Observed {
  std::string habit;
  double true_um_per_division = 0.0;
  std::vector<scale::EyeReading> readings;
  scale::ReferenceScale scale;
  scale::ReadingConditions conditions;
};

inline constexpr int kHabits = 6;

Observed observe(std::uint64_t seed);

}  // namespace coverage
