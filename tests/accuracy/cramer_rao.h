// The least standard deviation any unbiased estimator of a scene's pitch can have.
//
// Model. Every stored sample is its noise-free light m plus independent noise of variance sigma^2(m): shot noise, read
// noise and rounding (1/12 of a step squared). The Fisher information of the parameters is
//     F_ij = sum over samples of (dm/dp_i)(dm/dp_j) / sigma^2(m)
// with the derivatives by central differences of the renderer's noise-free light; samples beyond black or white tell
// nothing. Of a colour mosaic each pixel counts in its own colour. The bound of the pitch is sqrt((F^-1)_pitch,pitch),
// all the other parameters being unknown as well: position along the scale, angle, bright level, contrast, line width,
// blur. Graduation errors of known scatter are a second, independent source: their variance adds.
//
// Limits. Gamma, sharpening, resampling and JPEG come after the noise and are left out: they can only lose
// information, so the bound stays a bound.
//
// Sources: S. M. Kay, "Fundamentals of Statistical Signal Processing: Estimation Theory", 1993, chapter 3 (from
// memory); the rest is derived here.
#pragma once

#include <vector>

#include "micrograph/image.h"
#include "micrograph/scene.h"
#include "micrograph/truth.h"

namespace accuracy {

/// Bound of the standard deviation of pitch / pitch of the scene's scale number `axis`; infinite when the picture
/// tells nothing about it. Some 15 renderings.
double relative_pitch_bound(const micrograph::Scene& scene, const micrograph::Truth& truth, std::size_t axis = 0);

/// The estimator that attains the bound: the scene is known to it, and the small change of all parameters that fits an
/// exposure best is what it finds. Of grey scenes.
class BestEstimator {
 public:
  BestEstimator(const micrograph::Scene& scene, const micrograph::Truth& truth, std::size_t axis = 0);
  /// Its error of the pitch in an exposure, over the bound.
  double error_in_bounds(const micrograph::Image& exposure) const;

 private:
  std::vector<float> light_, filter_;  ///< the sum of filter times (sample - light) is the error
};

/// The same bound in closed form, for evenly lit, unclipped lines that are much longer than their blur; good to a
/// factor of about two there. Infinite where the closed form does not hold.
double rough_relative_pitch_bound(const micrograph::Scene& scene, const micrograph::Truth& truth, std::size_t axis = 0);

/// What the division itself leaves in the picture: the fundamental of its lines, as a sine over all they cover, in
/// standard deviations of its estimate. The bound does not need it, for the first and the last line, or the longer
/// ones, give the distance of the others even where these are blurred into one.
double division_trace(const micrograph::Scene& scene, const micrograph::Truth& truth, std::size_t axis = 0);

}  // namespace accuracy
