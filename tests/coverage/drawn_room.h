// One calibration with known truth: a slide with errors, a certificate that is off by what it states, a warm room, a
// slide that is not level, optics that distort, shots at different focus.
#pragma once

#include <scale/setup.h>

#include <cstdint>
#include <vector>

namespace coverage {

struct DrawnRoom {
  double true_factor = 0.0;  // mean over the whole field, micrometres per pixel, of what lies level in this room
  scale::ReferenceScale scale;
  scale::SetupConditions conditions;
  std::vector<scale::Shot> shots;  // those in which a ruling was found
  int lost = 0;                    // shots without one
};

// Draws the room of this seed and renders its shots.
DrawnRoom draw_room(std::uint64_t seed);

}  // namespace coverage
