// How many unresolved lines stand in the place of one?
//
// Beyond the end of long graduations the short ones may leave a block in which none of them can be measured, though all
// together they still show, as a wave of m periods in every space between two long ones. The mean of all spaces is
// fitted with waves of 2 to 12 periods over a ground that may bend; one of them must leave far less than every other,
// and be the same in all spaces by their scatter. The same spaces beside the block, where no short lines are, are the
// control: what the picture's own ringing leaves beside a line is there as well. Of two lines in place of one little is
// clear of the lines; there the Fourier coefficients from line to line tell.
#pragma once

#include <scale/image.h>

#include "ruling/graduations.h"

namespace scale {

// 2, 5 or 10, when the block shows so many parts; 1 when it does not show how many. `ink` is the block's mean darkness
// over that of the lines.
int parts_of_block(const ImageView& image, const Graduations& graduations, AlongRange block, double ink);

}  // namespace scale
