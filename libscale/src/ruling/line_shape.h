// The profile that all graduations of one picture share, and what one window of a strip says about it.
//
// Model. Across graduation n, in strip k, the picture is
//     y(t) = b + B t + (a + A t) S(t - shift) - a L(t) + noise,      t = s - expected centre,
// with one shape S for the whole picture: free of any formula, so that relief, halo, line pairs and blur of any kind
// are met, and covering everything within half a period, so that neighbours that run into each other are in it too.
// S is 0 between lines and 1 at its extremum. B and A are the local slopes of background and amplitude, known from a
// smooth fit over the field: left free in each window they would cost 4 to 9 % in the standard deviation of the shift.
// L is what the neighbours in S hold that are not there: beyond the first and the last line, where a line is missing or
// its neighbours are shorter. It can be told where one line alone is known (two_edges.h).
//
// The shift follows from least squares linearised at 0 (Gauss-Newton); iterating moves the expected centre. S is
// estimated by folding all windows, so the centre is defined up to an offset common to all lines, which no pitch sees.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "ruling/strips.h"

namespace scale {

struct LineShape {
  static constexpr double step = 0.25;        // bins between samples
  static constexpr double kLeastNoise = 0.2;  // variance of a pixel that counts most, over the ground's
  double reach = 0.0;                         // the shape is known within +-reach
  double window = 0.0;                        // half width of the window that is fitted
  std::vector<double> value, slope;
  double width = 0.0;  // full width at half height, bins
  double blur = 0.0;   // Gaussian-equivalent standard deviation of its edges, bins
  double rise = 0.0;   // of the noise's variance from the ground to the extremum, over the ground's
  // One line alone, without its neighbours, sampled as `value` is; empty where unknown.
  double period = 0.0, lone_reach = 0.0;  // bins
  std::vector<double> lone;

  struct Sample {
    double value, slope;
  };
  Sample at(double t) const {
    const double position = (t + reach) / step;
    return {between(value, position), between(slope, position)};
  }
  // What a pixel counts for where the line is at this value: the inverse of its variance, over the ground's.
  double weight(double at_value) const {
    return rise == 0.0 ? 1.0 : 1.0 / std::max(kLeastNoise, 1.0 + rise * at_value);
  }
  static double between(const std::vector<double>& samples, double position) {
    const auto i = static_cast<std::size_t>(static_cast<int>(position));  // the short way, for the processor
    return samples[i] + (position - static_cast<double>(i)) * (samples[i + 1] - samples[i]);
  }
};

struct WindowFit {
  double background = 0.0, amplitude = 0.0, shift = 0.0;
  double shift_information = 0.0;      // Sum w S'^2, per unit amplitude squared
  double amplitude_information = 0.0;  // 1 / variance of the amplitude for unit noise per pixel
  double residual_variance = 0.0;      // of one pixel about the model, smallest when nothing but noise is left
  double share = 0.0;                  // of the window's variance that the model explains
  double pixels = 0.0;
};

// Which of the four nearest neighbours lack, of the height of this line.
struct Lacking {
  static constexpr int kPlaces[] = {-2, -1, 1, 2};
  unsigned places = 0;  // bits in the order of kPlaces
  double height = 0.0;  // grey values

  // What they would add at t from the line.
  double at(double t, const LineShape& shape) const { return places == 0 ? 0.0 : added(t, shape); }
  double added(double t, const LineShape& shape) const;
};

struct Surroundings {
  double background = 0.0, amplitude = 0.0;  // their slopes, per bin
  Lacking lacking = {};
};

// Fits background, amplitude and shift in the window around `centre`; nothing when less than 80 % of the window
// lies in the picture or the window is too narrow for three unknowns.
std::optional<WindowFit> fit_window(const Strips& strips, int strip, double centre, const LineShape& shape,
                                    Surroundings around);

// What the fit leaves beyond the line on its right, minus that on its left, grey values; nothing where the window shows
// too little beyond it.
std::optional<double> ground_step(const Strips& strips, int strip, double centre, const LineShape& shape,
                                  const WindowFit& fit, Lacking lacking);

// What fits leave where the line is flat, on its ground and at its extremum: the squares of single pixels.
struct FlatResidual {
  double ground = 0.0, ground_samples = 0.0, top = 0.0, top_samples = 0.0;

  void add(const Strips& strips, int strip, double centre, const LineShape& shape, const WindowFit& fit,
           Surroundings around);
  // See LineShape::rise; 0 where too few samples tell it.
  double rise() const;
};

// As fit_window, with background and amplitude given: for periods of so few pixels that a window cannot know them.
std::optional<WindowFit> fit_shift(const Strips& strips, int strip, double centre, const LineShape& shape,
                                   Surroundings around, double background, double amplitude);

// Mean grey value of one strip within +-reach of `centre`; nothing where it holds no pixels.
std::optional<double> mean_around(const Strips& strips, int strip, double centre, double reach);

// One window's part in the folded shape.
struct FoldWindow {
  int strip = 0;
  double centre = 0.0, background = 0.0, amplitude = 1.0;
  Surroundings around;
  double broader = 0.0;  // bins, the line than the shape, see own_width.h
};

// All samples of the windows within +-reach, brought to S and gathered in cells finer than the shape.
struct FoldCell {
  double t = 0.0, value = 0.0, weight = 0.0;  // means; the weight is pixels times amplitude squared
};
struct Fold {
  double reach = 0.0;
  std::vector<FoldCell> cells;  // in order of t, those that hold samples
};

// `previous` supplies S for the amplitude slopes (may be null).
Fold fold_windows(const Strips& strips, const std::vector<FoldWindow>& windows, double reach,
                  const LineShape* previous);

// The fold smoothed by a Gaussian of standard deviation `smoothing` bins. Not normalised: `value` is in the windows'
// own units.
LineShape smoothed(const Fold& fold, double smoothing);

LineShape fold_shape(const Strips& strips, const std::vector<FoldWindow>& windows, double reach, double smoothing);

// The same lines repeated: a window over `periods` periods, for lines too dense to be read one by one.
LineShape repeated(const LineShape& shape, double period, double periods);

// Where on the shape lies what is at t of a line that is so much broader: its edges are farther apart.
inline double narrowed(double t, double broader) {
  const double half = 0.5 * broader;
  return half > 0.0 ? t - std::clamp(t, -half, half) : t - std::copysign(1.0, t) * half;
}

// Sets the slope by differences of the value.
void differentiate(LineShape& shape);

// Brings a folded shape over one full period (reach = period / 2) to its normal form: moved so that 0 is the line's
// centre of symmetry, 0 between the lines and 1 at the extremum; sets width, blur and window. Returns how far it moved.
double normalise_shape(LineShape& shape, double period, bool may_move);

}  // namespace scale
