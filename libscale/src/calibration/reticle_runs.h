// From readings to the points of the fit: what each is worth, and which belong together.
//
// Runs. Coincidences at neighbouring lines, (E, S), (E + q, S + p), (E + 2q, S + 2p) ..., are lines that cross slowly:
// each is within the limits of coincidence, with errors that go one way from end to end. Their middle is where they
// cross. Exceptions: a run that begins at a zero line begins where the scales were set together, and counts by that
// line; a run that holds all readings of its series counts by both ends, as nothing crosses in it.
#pragma once

#include <scale/reticle.h>

namespace scale::calibration {

// A point of the fit, in reticle divisions and micrometres.
struct ReadingPoint {
  double x = 0.0, y = 0.0, u_x = 0.0, u_y = 0.0;
  double limits_um = 0.0;  // (+-) of what may be between the lines
  int series = 0;
  std::vector<std::size_t> from;  // places of the readings it stands for
  std::size_t stands_for = 0;     // the one that counts, or the middle one

  // Standard, at the object, for a slope in micrometres per division.
  double uncertainty(double slope) const;
};

struct ReadingScales {
  const ReferenceScale& scale;
  const ReadingConditions& conditions;

  double position_um(double graduation) const;  // certified
  double coincidence_um(double slope) const;    // limits (+-)
};

// `slope` in micrometres per division: good to some percent is enough.
std::vector<ReadingPoint> points_of(std::span<const EyeReading> readings, const ReadingScales& scales, double slope);

}  // namespace scale::calibration
