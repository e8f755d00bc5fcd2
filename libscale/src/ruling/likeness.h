// How alike the lines of a ruling are, number by number; all are 0 for a perfect one.
#pragma once

#include <scale/image.h>

#include "ruling/graduations.h"

namespace scale {

// Median amplitude of the lines, grey values.
double contrast_of(const Graduations& graduations);

// Robust relative scatter of the windows' amplitudes about their line's, beyond what noise explains.
double scatter_along(const Graduations& graduations, double noise);

// Robust scatter of the ground at a place about that at its neighbours, from line to line or along a line, whichever is
// larger, grey values: light that changes slowly, however it does, is not meant. At most the scatter about the ground's
// smooth part.
double scatter_of_ground(const Graduations& graduations);

// Robust relative scatter of the amplitudes from line to line.
double scatter_between(const Graduations& graduations);

// How raggedly the lines end, of their length: the least scatter, from neighbour to neighbour of one level, of their
// lower ends, their upper ends and their middles. Graduations have a base, a top or a middle in common, wherever
// something is in the way.
double raggedness(const Graduations& graduations);

// How far the profile of the lines at one end of the ruling departs from that at the other, root mean square over the
// window, relative to the height of the line, but for a slope of the ground.
struct ShapeDrift {
  double value = 0.0;
  double by_chance = 0.0;  // standard deviation, if neighbours differ by chance; 0 where the value is small
};
ShapeDrift shape_drift(const Graduations& graduations);

// Root mean square departure of a line's windows from the common shape beyond noise, in width as well, relative to the
// contrast: the value that four fifths of the lines keep.
double misfit(const Graduations& graduations, double contrast, double noise);

// Height of the folded profile of every second, third, fourth or fifth line, the weakest such class over the strongest:
// far below 1 where some places of a dense division are empty and only its neighbours were read there.
double evenness_in_turns(const Graduations& graduations);

// Share of the lines beside which an edge at least half as strong as theirs lies in no common place of the division;
// the median of bands along the lines.
double strays(const ImageView& image, const Graduations& graduations);

// Lines just like these that stand where no graduation can be, within a few periods beyond the ends.
int lines_elsewhere(const Graduations& graduations);

}  // namespace scale
