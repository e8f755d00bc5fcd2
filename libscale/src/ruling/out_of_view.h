// The mean pitch over the field, where lines at its corners show too little to be measured.
//
// Lines at an angle to the picture's sides leave corners in which only pieces of some are seen. Where the pitch changes
// over the field, the mean over the lines measured is not that over all: the fitted curve is followed to the last place
// that has a piece of a line in view. Half of what that changes is the limit of a rectangular distribution (judgement).
#pragma once

#include "ruling/graduations.h"
#include "ruling/line_fit.h"
#include "ruling/working_view.h"

namespace scale {

struct FieldMean {
  double correction = 0.0, uncertainty = 0.0;  // of the pitch, pixels, the uncertainty standard
};

// Nothing where the fit is straight, or `work` shows a part of the picture. `reversed`: the fit's first line is the
// last of `graduations`.
FieldMean mean_over_field(const WorkingView& work, const Graduations& graduations, bool reversed, const LineFit& fit);

}  // namespace scale
