// From pixels to micrometres: the one place where a length enters.
//
// Model. One division of the reference scale, D micrometres, spans `pitch` pixels, so the factor is
// D / pitch micrometres per pixel. Its uncertainty combines (JCGM 100, relative, independent)
//   - the fit: pitch_uncertainty / pitch, with its degrees of freedom;
//   - what the picture shows of the field: the largest non-linearity over the span, taken as limits of a
//     rectangular distribution;
//   - when stated, the relative uncertainty of the reference scale.
// Without the last `budget_complete` is false: the number then says how well the picture was read, not how
// well the scale is known. See docs/uncertainty.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <scale/ruling.h>
#include <scale/uncertainty.h>

namespace scale {

// The reference artefact, as far as a picture without a lab file needs it.
struct ReferenceScale {
  Micrometres division;                                 // nominal distance of neighbouring graduations
  std::optional<double> relative_expanded_uncertainty;  // k = 2, of lengths; absent: not stated
};

struct CalibrationFactor {
  double value = 0.0;
  double expanded_uncertainty = 0.0;
  double coverage_factor = 2.0;
};

struct CalibratedAxis {
  double um_per_pixel = 0.0;
  double fit_uncertainty = 0.0;  // standard, micrometres per pixel
  double residual_rms_um = 0.0, residual_max_um = 0.0, nonlinearity_max_um = 0.0;
};

// One line of the budget; contributions are standard uncertainties of the factor, micrometres per pixel.
struct BudgetLine {
  std::string component;  // "fit", "field", "x-y difference", "reference scale"
  double contribution = 0.0;
  double degrees_of_freedom = 0.0;  // infinity when not estimated from data
  bool stated = true;               // false: the component exists and its size is not known
};

struct Calibration {
  CalibrationFactor um_per_pixel, pixels_per_um;
  double fit_uncertainty = 0.0;  // standard uncertainty of the fit alone, micrometres per pixel
  double fit_degrees_of_freedom = 0.0;
  bool budget_complete = false;
  std::vector<BudgetLine> budget;
  std::vector<CalibratedAxis> axes;  // in the order of Reading::rulings
  std::vector<Warning> warnings;
};

// `reading` must hold at least one ruling and the division must be positive, else std::invalid_argument.
// Two rulings across each other give one factor, the mean of both, with their difference in the budget.
Calibration calibrate(const Reading& reading, const ReferenceScale& scale);

}  // namespace scale
