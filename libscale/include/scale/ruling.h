// What one image shows of a set of parallel, evenly spaced graduations, in pixels only.
//
// Model. A ruling's graduations cross its axis at right angles. Along the axis (direction `direction`, from +x
// towards +y) graduation n has its centre at
//     t_n = origin + pitch * n + e_n,      t = x cos(direction) + y sin(direction),
// where e_n is the residual. `pitch` is the mean over the part of the field the ruling covers; where the scale
// is seen to change over the field, `local_pitch` describes how.
//
// The centre of a graduation is the symmetric centre of its profile (centre-to-centre distances, as in the
// length laboratories' comparison EUROMET.L-K7); an offset common to all lines does not enter the pitch.
//
// Limits. Fewer than three graduations are refused. One image cannot tell the optics' distortion from the
// scale's own graduation errors.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <scale/failure.h>
#include <scale/image.h>
#include <scale/units.h>

namespace scale {

struct Graduation {
  int index = 0;                // division number in this image; 0 is the first graduation found
  double position_px = 0.0;     // measured t_n
  double uncertainty_px = 0.0;  // standard uncertainty of the centre, from the scatter along the line
  double residual_px = 0.0;     // measured minus fitted position
  double x1_px = 0.0, y1_px = 0.0, x2_px = 0.0, y2_px = 0.0;  // where the line was followed, end to end
  bool used = true;                                           // false: named an outlier by the fit
};

// A line that was seen and not counted.
struct RejectedLine {
  double x1_px = 0.0, y1_px = 0.0, x2_px = 0.0, y2_px = 0.0;
  std::string reason;  // "outlier" of the fit, "uneven-ground" on both sides of an end line, or "refused" with all
};

struct Ruling {
  Radians direction;                   // along which graduations follow each other, in (-90, 90] degrees
  double direction_uncertainty = 0.0;  // radians, standard
  double origin_px = 0.0;              // fitted t of index 0
  double pitch_px = 0.0;  // mean distance between neighbouring graduations, over all that have a piece in view
  double pitch_uncertainty_px = 0.0;  // standard: of the fit, and of what the mean means where the pitch changes
  double degrees_of_freedom = 0.0;    // of that uncertainty
  double residual_rms_px = 0.0;
  double residual_max_px = 0.0;
  int missing = 0;                      // indices between first and last without a usable graduation
  double false_alarm = 1.0;             // expected number of such findings in a picture without a ruling
  double nonlinearity_max_px = 0.0;     // largest departure of the smooth local scale from the straight line
  double nonlinearity_p_value = 1.0;    // of the F-test for it
  std::vector<double> nonlinearity;     // polynomial of the departure in z in [-1, 1] over the span; empty: none
  int counted_by = 1;                   // n: only every n-th graduation could be measured, the finer ones were seen
  bool low_confidence = false;          // three or four graduations
  std::vector<Graduation> graduations;  // in order of index
  std::vector<RejectedLine> rejected;
  // Relative growth of the pitch per pixel along the lines, towards growing v = y cos(direction) - x sin(direction), as
  // lines show it that fan out under a tilted camera, and its standard uncertainty.
  double pitch_growth_per_px = 0.0, pitch_growth_uncertainty = 0.0;
  double line_width_px = 0.0;  // of the graduations, full width at half height
  double edge_blur_px = 0.0;   // Gaussian-equivalent blur of their edges (standard deviation)
  bool dark_on_bright = true;
  // Profile folded over one pitch, mean grey value against offset from the centre, for plots.
  std::vector<double> profile_offset_px, profile_value;
};

// What one picture gave, and how far the reading came when it gave nothing.
struct Reading {
  int width = 0, height = 0;
  std::vector<Ruling> rulings;     // none, one, or two across each other (crossed scales, grids)
  std::optional<Failure> failure;  // set when there is none
  std::vector<Warning> warnings;
  double noise = 0.0;            // standard deviation of a sample, grey values
  double saturated_share = 0.0;  // share of samples at the ends of the scale
  std::vector<double> directions_tried_deg;
  std::vector<RejectedLine> lines_seen;  // of the best attempt, when refused
};

struct RulingOptions {
  // Largest expected number of false findings per picture that is accepted.
  double false_alarm_limit = 1e-6;
};

// Finds the rulings of `image`. Deterministic for any number of threads (oneTBB's, taken from the caller's
// arena). Throws std::invalid_argument for an empty view or options out of range; everything the picture
// itself is to blame for is a Failure in the Reading.
Reading find_rulings(const ImageView& image, const RulingOptions& options = {});

}  // namespace scale
