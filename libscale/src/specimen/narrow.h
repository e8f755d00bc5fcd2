// Bodies that are not wide against the blur: what the half level of the peak says, and what is true.
//
// Model.   A bar or disc blurred by a Gaussian of standard deviation s. Its peak is below the full step, so half of the
//          peak is passed further out than the edge.
//          Bar:  I(x) = Phi((x + w/2)/s) - Phi((x - w/2)/s)
//          Disc: I(r) = integral over rho < R of (rho/s^2) exp(-(r^2 + rho^2)/(2 s^2)) I_0(r rho/s^2)
// Limits.  Of a bar narrower than 2 s hardly more than its blur is seen.
#pragma once

namespace scale {

inline constexpr double kResolved = 2.0;       // blurs: narrower is not resolved
inline constexpr double kFullyResolved = 8.0;  // blurs: wider needs no correction (below 1e-4 blurs)

// Width of the bar whose half level of the peak is `measured` wide; 0 when it is narrower than `kResolved`.
double bar_width(double measured, double blur);

// Half the distance between the 25 and 75 % points of an edge of such a bar, over 0.6745: what its blur looks like.
double apparent_blur(double width, double blur);

// The blur of a bar from what it looks like: measured width at half level and apparent blur.
double blur_of_bar(double measured, double apparent);

// Radius of the disc minus the radius at which half of its peak is passed.
double disc_correction(double measured_radius, double blur);

}  // namespace scale
