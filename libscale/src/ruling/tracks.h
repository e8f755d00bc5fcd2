// From a hypothesis to the lines of a ruling: which there are, and how far each of them goes.
//
// The shared line shape is folded from the band that the hypothesis names, narrowed to its core; missing lines are
// looked for between and beyond the known ones by dead reckoning with the local pitch, so that a scale which changes
// over the field does not lose step; then each line is followed up and down while it keeps its amplitude.
#pragma once

#include <vector>

#include "ruling/line_shape.h"
#include "ruling/period.h"
#include "ruling/strips.h"

namespace scale {

// Bins; below it a window holds too few pixels for three unknowns.
inline constexpr double kDensePeriod = 10.0;

struct Track {
  int index = 0;
  double s = 0.0;
  double amplitude = 0.0;
  double v_low = 0.0, v_high = 0.0;
};

struct StripRange {
  int from = 0, to = 0;
};

// The strips that lie wholly in [v_low, v_high).
StripRange strips_inside(const Strips& strips, double v_low, double v_high);

struct Tracks {
  std::vector<Track> lines;  // in order of index; fewer than three when the hypothesis does not hold up
  StripRange core;           // strips in which nearly all lines are
  LineShape shape;
  double amplitude = 0.0;  // median of the lines', grey values
};

// `strips` along the direction of the hypothesis, over the whole picture.
Tracks find_tracks(const Strips& strips, const Hypothesis& hypothesis);

// The shape that windows are read with: itself, or repeated where the lines are dense.
LineShape reader_of(const LineShape& shape, double period);

}  // namespace scale
