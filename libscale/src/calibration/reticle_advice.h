// Which further reading would improve the factor most.
#pragma once

#include "calibration/reticle_fit.h"

namespace scale::calibration {

// Of all pairs of lines that should coincide by the fit, and of the reticle's ends with an estimated fraction, the one
// that leaves the least uncertainty; absent when none takes off 5 %. Where the lengths of the scales are not stated
// they are taken to reach to the next ten divisions beyond what was `read`, left out or not.
std::optional<FurtherReading> further_reading(std::span<const ReadingPoint> points, const ReticleFit& fit,
                                              const ReadingScales& scales, std::span<const EyeReading> read);

}  // namespace scale::calibration
