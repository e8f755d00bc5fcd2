#include "numeric/least_squares.h"

#include <Eigen/QR>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace scale::numeric {
namespace {

using LongVector = Eigen::Matrix<long double, Eigen::Dynamic, 1>;
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

LeastSquaresResult undetermined(Eigen::Index rows, Eigen::Index columns, int rank) {
  LeastSquaresResult result;
  result.parameters = Eigen::VectorXd::Constant(columns, kNaN);
  result.covariance_unscaled = Eigen::MatrixXd::Constant(columns, columns, kNaN);
  result.residual_sum_of_squares = kNaN;
  result.residual_sd = kNaN;
  result.rank = rank;
  result.degrees_of_freedom = static_cast<int>(rows) - rank;
  return result;
}

void require_matching_sizes(const LongMatrix& design, const Eigen::VectorXd& observations,
                            const Eigen::VectorXd& weights) {
  if (design.cols() == 0) throw std::invalid_argument("least squares: the design has no columns");
  if (observations.size() != design.rows() || (weights.size() != 0 && weights.size() != design.rows()))
    throw std::invalid_argument("least squares: design, observations and weights differ in length");
}

// Column lengths; a column of zeros keeps the length one, so that it shows as a lost rank and not as NaN.
LongVector column_lengths(const LongMatrix& matrix) {
  LongVector lengths = matrix.colwise().norm().transpose();
  for (long double& length : lengths)
    if (length == 0.0L) length = 1.0L;
  return lengths;
}

// (R'R)^-1 brought back from the pivoted, scaled columns.
Eigen::MatrixXd inverse_gram(const Eigen::ColPivHouseholderQR<LongMatrix>& qr, const LongVector& lengths) {
  const Eigen::Index n = qr.cols();
  const LongMatrix inverse =
      qr.matrixR().topLeftCorner(n, n).triangularView<Eigen::Upper>().solve(LongMatrix::Identity(n, n));
  const LongMatrix unpivoted = qr.colsPermutation() * inverse;
  const LongMatrix unscaled = lengths.cwiseInverse().asDiagonal() * unpivoted;
  return (unscaled * unscaled.transpose()).cast<double>();
}

}  // namespace

LeastSquaresResult solve_least_squares(const LongMatrix& design, const Eigen::VectorXd& observations,
                                       const Eigen::VectorXd& weights) {
  require_matching_sizes(design, observations, weights);
  LongMatrix scaled = design;
  LongVector target = observations.cast<long double>();
  if (weights.size() != 0) {
    const LongVector roots = weights.cast<long double>().cwiseSqrt();
    scaled = roots.asDiagonal() * scaled;
    target = target.cwiseProduct(roots);
  }
  if (design.rows() == 0 || !scaled.allFinite() || !target.allFinite())
    return undetermined(design.rows(), design.cols(), 0);
  const LongVector lengths = column_lengths(scaled);
  scaled = scaled * lengths.cwiseInverse().asDiagonal();

  Eigen::ColPivHouseholderQR<LongMatrix> qr(scaled.rows(), scaled.cols());
  qr.setThreshold(static_cast<long double>(scaled.rows()) * std::numeric_limits<double>::epsilon());
  qr.compute(scaled);
  const int rank = static_cast<int>(qr.rank());
  if (rank < scaled.cols()) return undetermined(scaled.rows(), scaled.cols(), rank);

  LongVector solution = qr.solve(target);
  const LongVector first_residual = target - scaled * solution;
  solution += qr.solve(first_residual);
  const long double sum_of_squares = (target - scaled * solution).squaredNorm();

  LeastSquaresResult result;
  result.parameters = solution.cwiseQuotient(lengths).cast<double>();
  result.covariance_unscaled = inverse_gram(qr, lengths);
  result.residual_sum_of_squares = static_cast<double>(sum_of_squares);
  result.rank = rank;
  result.degrees_of_freedom = static_cast<int>(scaled.rows()) - rank;
  result.residual_sd =
      result.degrees_of_freedom > 0 ? static_cast<double>(std::sqrt(sum_of_squares / result.degrees_of_freedom)) : kNaN;
  return result;
}

LeastSquaresResult solve_least_squares(const Eigen::MatrixXd& design, const Eigen::VectorXd& observations,
                                       const Eigen::VectorXd& weights) {
  return solve_least_squares(LongMatrix(design.cast<long double>()), observations, weights);
}

LongMatrix polynomial_design(std::span<const double> abscissae, int degree) {
  if (degree < 0) throw std::invalid_argument("polynomial_design: the degree is negative");
  LongMatrix design(static_cast<Eigen::Index>(abscissae.size()), degree + 1);
  for (Eigen::Index row = 0; row < design.rows(); ++row) {
    long double power = 1.0L;
    for (int column = 0; column <= degree; ++column) {
      design(row, column) = power;
      power *= static_cast<long double>(abscissae[static_cast<std::size_t>(row)]);
    }
  }
  return design;
}

}  // namespace scale::numeric
