// The graduations themselves: followed along their whole length, each with a sub-pixel centre and its uncertainty.
//
// From a hypothesis (period, band, direction) the shared line shape is folded, missing lines are looked for between
// and beyond the known ones by dead reckoning with the local pitch (so that a scale which changes over the field does
// not lose step), each line is followed up and down as far as it goes, and then all windows of all lines are fitted
// together: shape, background and amplitude slopes, shifts, direction. Dirt meets two layers of robustness: windows
// along one line, then lines (the latter in line_fit).
#pragma once

#include <vector>

#include "ruling/line_shape.h"
#include "ruling/period.h"

namespace scale {

inline constexpr std::size_t kFewLines = 7;  // fewer of them may be even by accident

struct MeasuredLine {
  int index = 0;
  double s = 0.0;                    // centre at v_reference, bins
  double x = 0.0, y = 0.0;           // that point of the picture
  double sigma = 0.0;                // standard uncertainty of the centre along the axis, pixels; 0: not measured
  double weight = 0.0;               // of s, inverse variance per unit window variance
  double v_low = 0.0, v_high = 0.0;  // where the line was followed
  double amplitude = 0.0;            // grey values, negative for dark lines on bright ground
  double broader = 0.0;              // bins, than the shape, see own_width.h
  double light_doubt = 0.0;          // standard, bins: of the centre, signed alike for all lines (see light_share.h)
  int windows = 0;                   // that carry the centre
  bool lopsided = false;             // an end line, left out: the ground on its two sides differs
};

struct LineWindow {
  std::size_t line = 0;  // position in `lines`
  int strip = 0;
  WindowFit fit;
  bool used = true;
  bool spoilt = false;   // something else than the line shows in it
  unsigned lacking = 0;  // its neighbours that are not there, see Lacking
};

// How alike the windows are, for the judgement whether these are the lines of one scale.
struct SmoothScatter {
  double background = 0.0;  // robust scatter of the windows' background about its smooth part, grey values
  double amplitude = 0.0;   // the same of their amplitude
};

// How the lines run through the strips: s = centre + (lean + fan z) v + (bow + bow_fan z) v^2, v from the reference and
// z from -1 at the first line to 1 at the last. Tilt in depth fans lines out, radial distortion bows them.
struct Bend {
  double lean = 0.0, fan = 0.0, bow = 0.0, bow_fan = 0.0;
  double at(double z, double v) const { return (lean + fan * z) * v + (bow + bow_fan * z) * v * v; }
};

struct Graduations {
  double angle = 0.0;   // radians, corrected
  double period = 0.0;  // bins, of the hypothesis
  SmoothScatter scatter;
  Bend bend;                 // of the lines in the frame of `strips`
  double v_reference = 0.0;  // where the lines' centres are taken
  double angle_uncertainty = 0.0;
  double window_sigma = 0.0;    // square root of the unit window variance: grey values
  double window_freedom = 0.0;  // its degrees of freedom
  LineShape shape;
  bool pinned = true;               // is the shape known at every fraction of a pixel, or by a formula?
  Strips strips;                    // of the final fit
  std::vector<MeasuredLine> lines;  // in order of index, the first has index 0
  std::vector<LineWindow> windows;

  double z_of(std::size_t line) const {
    const double first = lines.front().s, last = lines.back().s;
    return last > first ? 2.0 * (lines[line].s - first) / (last - first) - 1.0 : 0.0;
  }
  double centre_at(std::size_t line, double v) const { return lines[line].s + bend.at(z_of(line), v - v_reference); }
  double centre(std::size_t line, int strip) const { return centre_at(line, strips.v_centre(strip)); }
  // The shape to read a single window with: repeated where one would hold too few pixels.
  LineShape window_shape() const { return shape.window < 5.0 ? repeated(shape, period, 3.0) : shape; }
};

// The parts of v in which all lines are (empty, high below low, where there is none), most are, and any is.
AlongRange common_range(const Graduations& graduations);
AlongRange usual_range(const Graduations& graduations);
AlongRange whole_range(const Graduations& graduations);

// Median length of the lines, of the period.
double usual_length(const Graduations& graduations);

// Half the width of the middle of a space, bins.
double half_of_middle(const Graduations& graduations);

// Empty `lines` when the hypothesis does not hold up in the picture. `strips` of the search that led to it are used
// again where they are fine enough.
Graduations measure_graduations(const ImageView& image, const Strips& strips, const Hypothesis& hypothesis,
                                double noise);

}  // namespace scale
