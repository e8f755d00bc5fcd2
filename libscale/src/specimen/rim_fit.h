// Where the edge of a rim is, from the mean profile across it.
//
// Model.   Steps from the ground to the rim at e, and from the rim to the middle at e - w, blurred by a Gaussian:
//          M(t) = O + R (1 - Phi((t - e)/s)) + (m - R) (1 - Phi((t - e + w)/s)),  t outwards from the half level;
//          or the rim is strongest at e and falls off evenly to the middle over w, as of a body that is thick as a rod.
// Method.  Least squares by damped Gauss-Newton over e, w, R, m, and s unless it is known. The first shape is
//          taken unless the other one fits clearly better; where both fit alike their difference is uncertainty.
//          Every width of the rim is tried that fits hardly worse: the edge is in the middle between the outermost
//          ones that these give, and they are limits of what it may be off.
// Limits.  A rim narrower than about 1.5 blurs cannot be told from a fainter wider one: the limits are wide then.
#pragma once

#include <vector>

namespace scale {

struct MeanProfile {
  double first = 0.0, step = 0.25;  // pixels
  std::vector<double> values;       // NaN where nothing is known

  double at(double t) const;
  double mean(double from, double to) const;
  // Where it passes a level, nearest to the edge; NaN when it does not.
  double passes(double level) const;
};

struct RimFit {
  bool good = false;
  double edge = 0.0;  // pixels outwards from the half level
  double blur = 0.0;
  double doubt = 0.0;  // standard uncertainty of the edge by the shape of the rim, pixels
};

// `known_blur` 0: fitted, from `blur` on.
RimFit fit_rim(const MeanProfile& mean, double outside, double step, double rim_depth, double room, double blur,
               double known_blur);

}  // namespace scale
