// The ratio of the pitches of two rulings in one picture, at places that both cover.
//
// Model. In the frame of a ruling, t along its axis and v along its lines, line n lies at
//     t(n, v) = T(n) + g (T(n) - T0) (v - v0),
// T(n) the fitted place with its smooth departure, T0 that of the line at right angles to the axis, v0 the height at
// which the places are told, and g the growth of the pitch that the fanning of the lines shows. The pitch across the
// lines at a point is dt/dn there, by the cosine of the line's slope. The point is put on the line that goes through
// it: under a tilted camera rows and lines are not at right angles, so that neither its t nor a distance of the
// scales' middles tells which line that is.
//
// Both pitches are taken at one place half-way between the scales: as both see the same map from the object to the
// picture there, its tilt and its local scale cancel for parallel scales.
#pragma once

#include <scale/ruling.h>

namespace scale::calibration {

struct Place {
  double x = 0.0, y = 0.0;
};

Place middle_of(const Graduation& line);
Place middle_of(const Ruling& ruling);

// Distance along the lines, v.
double across(const Ruling& ruling, const Place& at);

// Divisions from index 0 to the last one.
int span_of(const Ruling& ruling);

struct LocalRatio {
  double mean = 0.0, spread = 0.0;              // spread: largest departure, relative
  double moved = 0.0, moved_uncertainty = 0.0;  // by what it was corrected for tilt, relative; standard
};

// Pitch of `reticle` over that of `micrometer`.
LocalRatio ratio_of(const Reading& reading, const Ruling& reticle, const Ruling& micrometer);

}  // namespace scale::calibration
