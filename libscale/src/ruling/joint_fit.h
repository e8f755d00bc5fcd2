// All windows of all lines fitted together: shape, background and amplitude, shifts, direction and bend.
#pragma once

#include "ruling/graduations.h"

namespace scale {

// Improves `graduations` (lines, windows, bend, shape, scatter) in place, window after window and pass after pass;
// false when too few windows can be read.
bool fit_jointly(Graduations& graduations);

}  // namespace scale
