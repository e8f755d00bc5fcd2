// Linear least squares for designs that normal equations cannot bear.
//
// Model.       y = X b + e, the e_i independent with standard deviation sigma / sqrt(w_i), sigma unknown.
// Method.      Columns scaled to unit length, then Householder QR with column pivoting in the machine's long
//              double, and one step of refinement with the residual. Forming X'X would square the condition number.
// Assumption.  Weights are finite and positive; all values are finite.
// Limits.      A design is called rank deficient when a scaled pivot is below rows * 2.2e-16, the rounding of a
//              design given in double. High powers of far-off abscissae lose digits when they are rounded to
//              double before the fit: give `polynomial_design` (long double) for those.
// Source.      Golub, Van Loan, Matrix Computations, 5.5 (from memory). Digits reached on the NIST StRD sets are
//              printed and held by tests/published.
//
//   LeastSquaresResult fit = solve_least_squares(design, observations);
//   double u = fit.residual_sd * std::sqrt(fit.covariance_unscaled(1, 1));
#pragma once

#include <Eigen/Core>
#include <span>

namespace scale::numeric {

using LongMatrix = Eigen::Matrix<long double, Eigen::Dynamic, Eigen::Dynamic>;

// When `rank` is smaller than the number of columns, or a value is not finite (rank 0), every number is NaN:
// there is no single answer. Standard deviations are NaN without degrees of freedom.
struct LeastSquaresResult {
  Eigen::VectorXd parameters;
  Eigen::MatrixXd covariance_unscaled;   // (X'WX)^-1; times residual_sd^2 it is the covariance
  double residual_sum_of_squares = 0.0;  // weighted
  double residual_sd = 0.0;              // sqrt(residual_sum_of_squares / degrees_of_freedom)
  int degrees_of_freedom = 0;            // rows minus rank
  int rank = 0;
};

// `weights` empty: all one. Throws std::invalid_argument when the sizes do not agree; data never throw.
LeastSquaresResult solve_least_squares(const Eigen::MatrixXd& design, const Eigen::VectorXd& observations,
                                       const Eigen::VectorXd& weights = {});
LeastSquaresResult solve_least_squares(const LongMatrix& design, const Eigen::VectorXd& observations,
                                       const Eigen::VectorXd& weights = {});

// Columns 1, x, x^2, ... x^degree.
LongMatrix polynomial_design(std::span<const double> abscissae, int degree);

}  // namespace scale::numeric
