// What lies between the lines and along them, looked at in very fine strips.
//
// A window of many rows averages away what tells a weave or a wall from a ruling: yarns that dive under others every
// few pixels, joints that cross every second course. A line across a ruling (a base line, the other axis of a grid)
// crosses all spaces at one place. Rows of dots show the ground between them, where the lines of a grid go on.
#pragma once

#include <cstddef>

#include <scale/image.h>

#include "ruling/graduations.h"

namespace scale {

struct FineLook {
  double along = 0.0;     // robust relative change of the amplitude within six pixels along the lines, beyond noise
  double in_turns = 0.0;  // share of spaces that are crossed where their neighbours are not, but the next ones are
  double broken = 0.0;    // share of spaces that are crossed where their neighbours are not
  double gaps = 0.0;      // share of a line's length where the ground shows in its place, the median of the lines
  double woven = 0.0;     // pixels by which lines give way along their length, by turns with their neighbours
  double crossing = 0.0;  // root mean square of what changes along the lines, of the contrast
  double rounded = 0.0;   // the part of it that neither the lines nor others across them explain
};

// One line in so many is enough to look at where they are many: no multiple of 2 or 5, by which lines are marked.
std::size_t standing_for_all(std::size_t lines);

FineLook look_finely(const ImageView& image, const Graduations& graduations, double contrast, double noise);

}  // namespace scale
