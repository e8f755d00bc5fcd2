// From pixels to micrometres: the one place where a length enters.
//
// Model. One division of the reference scale, D micrometres, spans `pitch` pixels, so the factor is
// D / pitch micrometres per pixel. Where a certificate gives corrections c_n of the graduations, D is the slope of
// D n + c_n over the graduations that were seen, with the weights of the fit; where it cannot be known which
// graduation is which, the slope over the whole scale.
//
// Its uncertainty combines (JCGM 100, relative, independent)
//   - the fit: pitch_uncertainty / pitch, with its degrees of freedom;
//   - what the picture shows of the field: the largest non-linearity over the span, taken as limits of a
//     rectangular distribution;
//   - when stated, the uncertainty of the reference scale over the span in view.
// Without the last `budget_complete` is false: the number then says how well the picture was read, not how
// well the scale is known. What only several pictures or the laboratory can tell (repeatability, temperature, slope
// ...) is in <scale/setup.h>. See docs/uncertainty.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <scale/ruling.h>
#include <scale/uncertainty.h>

namespace scale {

// A certified graduation: certified minus nominal position, at its nominal position from graduation 0.
struct Correction {
  Micrometres position, deviation;
};

// What a certificate states of its lengths: U(L) = constant + per_length * L, for `coverage_factor`.
struct CertifiedUncertainty {
  Micrometres constant;
  double per_length = 0.0;
  double coverage_factor = 2.0;
  // False: one error of the length in view, which all its graduations share; more lines do not make it smaller.
  // True: `constant` is of a position and the certificate says that those errors are independent.
  bool independent_positions = false;
};

// Which way graduation numbers run, as a person sees the slide with graduation 0 at the left: the free ends of the
// graduations, where long ones reach further than short ones, point up or down. `unknown`: they cannot tell.
enum class FreeEnds { unknown, up, down };

// Linear expansion per kelvin, anywhere within value +- half_width.
struct Expansion {
  double value = 0.0, half_width = 0.0;
};

// The reference artefact. Only `division` is needed; what is not stated is not assumed.
struct ReferenceScale {
  Micrometres division;                               // nominal distance of neighbouring graduations
  std::optional<CertifiedUncertainty> uncertainty{};  // absent: not stated
  int divisions = 0;                                  // in all; 0: not stated
  std::vector<Correction> corrections{};              // in order of position; linear in between
  int long_every = 10;                                // longest graduations: every so many divisions, 0 is one; 0: none
  FreeEnds free_ends = FreeEnds::unknown;
  std::optional<Micrometres> graduation_errors{};  // limits (+-) of a position where there are no corrections
  std::optional<Expansion> expansion{};
  double certificate_temperature = 20.0;  // degrees Celsius at which the lengths hold (ISO 1, from memory)
};

// Where in the picture the graduation numbers grow to.
enum class NumbersRun { unknown, right, left, up, down };

// What a person or the set-up can add to a picture so that its graduations get their numbers.
struct ShotHints {
  double frame_x = 0.0, frame_y = 0.0;  // top-left pixel of what was looked at, when it is part of a picture
  // The place of the scale in the middle of what was looked at, good to half a long interval.
  std::optional<Micrometres> centre;
  NumbersRun numbers_run = NumbersRun::unknown;
  bool mirrored = false;  // the camera shows the slide as in a mirror
};

// How the graduations of a ruling are numbered on the scale: number = first + step * index.
struct Numbering {
  bool known = false;
  int first = 0;       // number of the graduation of index 0
  int step = 1;        // +1 or -1
  std::string reason;  // why it is not known, or what told
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
  double fit_degrees_of_freedom = 0.0;
  // The part of fit_uncertainty that the noise of the picture does not explain: graduation errors, where the scale has
  // no corrections; 0 where it has.
  double graduation_uncertainty = 0.0;
  // Limits (+-, relative) of the mean factor for what the picture shows of the field. Both ends of a length across the
  // span may be displaced by the largest departure, towards or away from each other.
  double field_limits = 0.0;
  double span_um = 0.0;   // from the first to the last graduation
  Numbering numbering{};  // asked for only where the number of divisions is stated
  // Limits (+-, relative) within which the factor would change with another numbering; 0 when that is known.
  double numbering_limits = 0.0;
};

// One line of a budget. `contribution` is a standard uncertainty of the factor in micrometres per pixel: the input's
// times its sensitivity, or what second-order terms make of it where that is larger (slope, expansion).
struct BudgetLine {
  UncertainInput input;
  std::string unit = "1";  // of the input; "1" is a share of the factor
  double contribution = 0.0;
  bool stated = true;  // false: the component exists and its size is not known
  std::string basis;   // where the size comes from, in words
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
Calibration calibrate(const Reading& reading, const ReferenceScale& scale, const ShotHints& hints = {});

}  // namespace scale
