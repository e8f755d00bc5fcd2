// The straight line through the graduations' centres: the number itself.
//
// Model. t_n = a + p n + e_n with var e_n = sigma_n^2 + tau^2: sigma_n is what the windows along the line say, tau what
// the lines scatter beyond it (graduation errors, JPEG blocks, dirt that nobody saw), found by Mandel and Paule's
// condition chi^2 = degrees of freedom (J. Res. NBS 87, 377 (1982)) when the scatter contradicts sigma_n (F-test, 1 %).
// While it does not, the variance is a compromise between the prediction, counted as kPriorFreedom degrees of freedom,
// and the scatter. Weighted least squares; outliers are named one by one by the externally studentised residual
// (Bonferroni, 1 %), after a start that bears many (Huber weights with the scale of second differences, which a scale
// that changes over the field does not enter).
//
// A smooth change over the field is a quadratic and a cubic term, kept when a partial F-test at 0.1 % asks for them and
// there are six lines or more. The pitch is then the chord: (fit(last) - fit(first)) / (last - first).
#pragma once

#include <vector>

namespace scale {

struct LinePoint {
  int index = 0;
  double t = 0.0;      // pixels along the axis
  double sigma = 0.0;  // standard uncertainty of t, pixels
};

struct LineFit {
  double origin = 0.0, pitch = 0.0, pitch_uncertainty = 0.0, degrees_of_freedom = 0.0;
  double residual_rms = 0.0, residual_max = 0.0;  // of the lines used
  double scatter_ratio = 0.0;                     // chi^2 over freedom with sigma_n alone
  std::vector<double> residual;                   // of every line, about the fit
  std::vector<bool> used;
  double nonlinearity_max = 0.0, nonlinearity_p_value = 1.0;
  std::vector<double>
      nonlinearity;  // departure from the straight line over z in [-1, 1]: coefficients of 1, z, z^2, z^3
  double local_pitch_low = 0.0, local_pitch_high = 0.0;  // extremes of the fitted local pitch over the span
};

// `points` in order of index, at least three; `sigma_freedom` are the degrees of freedom of their sigmas, `model_limit`
// the standard uncertainty, pixels, that the lines' model leaves of the distance between the first and the last.
LineFit fit_lines(const std::vector<LinePoint>& points, double sigma_freedom, double model_limit);

}  // namespace scale
