// What a certificate makes of nominal divisions.
#pragma once

#include <scale/calibration.h>

namespace scale::calibration {

// Certified minus nominal position at a nominal position, linear between the rows of the table; beyond the first and
// last row their deviation holds.
double correction_at(const ReferenceScale& scale, double position_um);

// Slope of the corrections over the whole table (least squares): by how much, relatively, the scale's mean division
// is longer than nominal.
double mean_correction_slope(const ReferenceScale& scale);

// Largest departure of that slope over a window of `span_um` anywhere on the scale from the mean slope. The slope over
// a short window is that of the straight line between its ends' least-squares fit.
double slope_variation(const ReferenceScale& scale, double span_um);

// The factor along one ruling with its fit, all divisions being `division_um` long.
CalibratedAxis nominal_axis(const Ruling& ruling, double division_um);

// The factor along one ruling with its fit, by certified positions where they can be used.
CalibratedAxis calibrate_axis(const Ruling& ruling, int width, int height, const ReferenceScale& scale,
                              const ShotHints& hints);

// Standard, relative, of a length over graduations that span `span_um`, their positions having the sum of squares
// `squares_um2` about their mean.
double certificate_uncertainty(const CertifiedUncertainty& stated, double span_um, double squares_um2);

// The same over the graduations of `ruling`. The scale's uncertainty must be stated.
double certificate_uncertainty(const Ruling& ruling, const CalibratedAxis& axis, const ReferenceScale& scale);

}  // namespace scale::calibration
