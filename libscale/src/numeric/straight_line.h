// Straight line y = a + b x with uncertainties, and its use in both directions.
//
// Model.       eta_i = a + b xi_i; y_i = eta_i + error of standard uncertainty u(y_i), and with errors in both
//              variables x_i = xi_i + error of u(x_i), all independent.
// Method.      u(y) known: weighted least squares in the centred form of ISO/TS 28037:2010, clause 6.
//              u(y) unknown but equal: the same with sigma^2 = RSS / (n - 2) (its Annex E).
//              errors in both: generalised distance regression by the Gauss-Newton iteration of its clause 7.
// Limits.      Fewer than two distinct abscissae give no line: `valid` is false and every number is NaN.
//              So does an uncertainty that is not positive. With u(y) unknown two points leave no degree of
//              freedom and NaN for the uncertainties.
// Source.      ISO/TS 28037:2010; Eurachem/CITAC QUAM, E.3 for the inverse prediction.
//
//   StraightLine line = fit_line(divisions, positions);
//   Estimate x = predict_x(line, y, u_y);
#pragma once

#include <span>

namespace scale::numeric {

struct StraightLine {
  double intercept = 0.0;
  double slope = 0.0;
  double intercept_uncertainty = 0.0;  // standard
  double slope_uncertainty = 0.0;      // standard
  double covariance = 0.0;             // of intercept and slope
  double centroid_x = 0.0;             // weighted mean abscissa: there the line's height does not depend on its slope
  double centroid_uncertainty = 0.0;   // standard, of the line's height there
  double chi_squared = 0.0;            // weighted residual sum of squares; unweighted when u(y) is unknown
  double residual_sd = 0.0;            // sqrt(chi_squared / degrees_of_freedom)
  int degrees_of_freedom = 0;
  bool valid = false;  // false: no line could be found (see Limits), or no convergence
};

struct Estimate {
  double value = 0.0;
  double uncertainty = 0.0;  // standard
};

// All spans of one call must be of the same length, else std::invalid_argument.
StraightLine fit_line(std::span<const double> x, std::span<const double> y);
StraightLine fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> u_y);
StraightLine fit_line_errors_in_both(std::span<const double> x, std::span<const double> u_x, std::span<const double> y,
                                     std::span<const double> u_y);

// y = b x with u(y) unknown but equal: intercept 0 without uncertainty, degrees of freedom n - 1.
StraightLine fit_line_through_origin(std::span<const double> x, std::span<const double> y);

// The line's y at x, and the x at which the line reaches y; u_x, u_y belong to the value given.
Estimate predict_y(const StraightLine& line, double x, double u_x = 0.0);
Estimate predict_x(const StraightLine& line, double y, double u_y = 0.0);

}  // namespace scale::numeric
