// Do marks like these stand beyond both ends of the lines, as in a lattice of spots?
//
// Where a row of spots runs askew every one of them looks like a line of its own, as short as it is broad, and too
// little changes along it to tell it from a graduation. But short graduations end on open ground, at a base line or at
// the frame; a spot has a next one at either end, about as far off as its neighbours in the row.
#pragma once

#include <scale/image.h>

#include "ruling/graduations.h"

namespace scale {

bool next_rows(const ImageView& image, const Graduations& graduations);

}  // namespace scale
