// The exact direction of the graduations: strips of a direction known to about a degree and a half, set upright.
//
// Edges of neighbouring strips are matched, sign by sign, and the slip they have in common corrects the shear: over the
// distance of one strip first, then of 2, 4, ... 32 as far as the lines reach, each step being sure of less than one
// bin. Where the slips scatter, as those of ragged lines do, several corrections are made from them, and the one that
// leaves blocks of strips sharpest is taken. The picture is then summed again along the corrected direction.
#pragma once

#include "ruling/strips.h"
#include "ruling/working_view.h"

namespace scale {

// Strips of about `height` pixels over v in `range`, their layout's angle corrected.
Strips upright_strips(const WorkingView& work, double angle, double noise, double height, AlongRange range);

// Noise of one sample that would make neighbouring strips differ as they do (1.4826 MAD of second differences over
// sqrt 6); 0 when there are too few to tell. Coding and sharpening colour the noise, so that a profile shows more of it
// than neighbouring samples do. The lines themselves run through all three strips and drop out.
double noise_between(const Strips& strips);

}  // namespace scale
