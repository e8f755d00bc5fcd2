// How far the half level may lie from the edge of a body without a visible rim.
//
// Model.   Out of focus the half level depends on what the body does to the light, and a faint rim no longer shows: it
//          moves the half level out by up to 0.3 blurs, the two of a narrow body by up to 0.6.
//          A round body that absorbs, such as a dyed fibre, is thin along its edge: its grey values go on rising
//          inwards, and the half level lies within the edge. By Beer's law, over radii of 10 to 60 pixels, depths of
//          0.3 to 2.5 in the middle and blurs of 1 to 3.5 pixels, by 0.64 to 1.2 times sqrt(b^2 - f^2), where b is the
//          blur between the quartiles and f that between 10 and 30 %, on the side of the ground.
// Limits.  The blur of a lens far out of focus is no Gaussian and has b up to 1.24 f with a straight edge.
#pragma once

#include "specimen/rim_fit.h"

namespace scale {

// Standard uncertainty of an edge, pixels; in focus it is the edge convention's part. `known_blur` 0: not known.
double doubt_out_of_focus(double blur, double room, double known_blur);

// How far within the edge of a round body the half level may lie, pixels; 0 where the profile is that of a straight
// edge.
double round_edge_limit(const MeanProfile& mean, double outside, double step, double blur);

}  // namespace scale
