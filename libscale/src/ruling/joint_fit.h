// All windows of all lines fitted together: shape, background and amplitude, shifts, direction and bend.
#pragma once

#include "ruling/graduations.h"

namespace scale {

// The residual variance of windows that hold a line and nothing else, grey values squared: of those used, of which a
// base line or dirt may spoil most. 0 without any.
double usual_variance(const std::vector<LineWindow>& windows);

// Improves `graduations` (lines, windows, bend, shape, scatter) in place, window after window and pass after pass;
// false when too few windows can be read.
bool fit_jointly(Graduations& graduations);

}  // namespace scale
