#include "numeric/least_squares.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <vector>

#include "support/within.h"

using scale::numeric::LeastSquaresResult;
using scale::numeric::polynomial_design;
using scale::numeric::solve_least_squares;

namespace {

constexpr double kExact = 1e-14;  // a few roundings of numbers near one

Eigen::MatrixXd line_design(const std::vector<double>& x) {
  Eigen::MatrixXd design(static_cast<Eigen::Index>(x.size()), 2);
  for (Eigen::Index i = 0; i < design.rows(); ++i) design.row(i) << 1.0, x[static_cast<std::size_t>(i)];
  return design;
}

}  // namespace

TEST_CASE("a line through three points has the textbook solution, covariance and residual") {
  // Closed form: x = -1, 0, 1 makes X'X diagonal (3, 2); y = 0, 0, 3 gives 1 + 1.5 x, residuals 0.5, -1, 0.5.
  const LeastSquaresResult fit = solve_least_squares(line_design({-1, 0, 1}), Eigen::Vector3d(0, 0, 3));
  CHECK(within(fit.parameters(0), 1.0, kExact));
  CHECK(within(fit.parameters(1), 1.5, kExact));
  CHECK(within(fit.covariance_unscaled(0, 0), 1.0 / 3.0, kExact));
  CHECK(within(fit.covariance_unscaled(1, 1), 0.5, kExact));
  CHECK(within(fit.covariance_unscaled(0, 1), 0.0, kExact));
  CHECK(within(fit.residual_sum_of_squares, 1.5, kExact));
  CHECK(within(fit.residual_sd, std::sqrt(1.5), kExact));
  CHECK(fit.degrees_of_freedom == 1);
  CHECK(fit.rank == 2);
}

TEST_CASE("a weight of two counts as the same observation twice") {
  const Eigen::VectorXd weights = Eigen::Vector3d(1, 2, 1);
  const LeastSquaresResult weighted = solve_least_squares(line_design({0, 1, 3}), Eigen::Vector3d(1, 4, 2), weights);
  const LeastSquaresResult repeated = solve_least_squares(line_design({0, 1, 1, 3}), Eigen::Vector4d(1, 4, 4, 2));
  for (int i = 0; i < 2; ++i) {
    CHECK(within(weighted.parameters(i), repeated.parameters(i), kExact));
    for (int j = 0; j < 2; ++j)
      CHECK(within(weighted.covariance_unscaled(i, j), repeated.covariance_unscaled(i, j), kExact));
  }
  CHECK(within(weighted.residual_sum_of_squares, repeated.residual_sum_of_squares, 10 * kExact));
}

TEST_CASE("columns of very different size cost no digits") {
  Eigen::MatrixXd design = line_design({1, 2, 3, 5});
  design.col(1) *= 1e-12;
  const LeastSquaresResult fit = solve_least_squares(design, Eigen::Vector4d(5, 8, 11, 17));
  CHECK(within(fit.parameters(0), 2.0, 1e-13));
  CHECK(within(fit.parameters(1) * 1e-12, 3.0, 1e-13));
}

TEST_CASE("a dependent column is reported as lost rank and leaves no number behind") {
  Eigen::MatrixXd design(4, 3);
  design << 1, 1, 2, 1, 2, 3, 1, 3, 4, 1, 4, 5;  // third = first + second
  const LeastSquaresResult fit = solve_least_squares(design, Eigen::Vector4d(1, 2, 3, 5));
  CHECK(fit.rank == 2);
  CHECK(fit.degrees_of_freedom == 2);
  CHECK(fit.parameters.array().isNaN().all());
  CHECK(fit.covariance_unscaled.array().isNaN().all());
  CHECK(std::isnan(fit.residual_sd));
}

TEST_CASE("a column of zeros and too few rows are lost rank too") {
  Eigen::MatrixXd design = line_design({1, 2, 3});
  design.col(1).setZero();
  CHECK(solve_least_squares(design, Eigen::Vector3d(1, 2, 3)).rank == 1);
  CHECK(solve_least_squares(line_design({7}), Eigen::VectorXd::Constant(1, 3.0)).rank == 1);
  CHECK(solve_least_squares(Eigen::MatrixXd(0, 2), Eigen::VectorXd(0)).rank == 0);
}

TEST_CASE("as many rows as columns give a solution without a standard deviation") {
  const LeastSquaresResult fit = solve_least_squares(line_design({0, 1}), Eigen::Vector2d(3, 5));
  CHECK(within(fit.parameters(1), 2.0, kExact));
  CHECK(fit.degrees_of_freedom == 0);
  CHECK(std::isnan(fit.residual_sd));
}

TEST_CASE("a value that is not finite, or a negative weight, gives NaN and does not throw") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK(solve_least_squares(line_design({0, 1, nan}), Eigen::Vector3d(1, 2, 3)).rank == 0);
  CHECK(solve_least_squares(line_design({0, 1, 2}), Eigen::Vector3d(1, nan, 3)).rank == 0);
  const Eigen::VectorXd weights = Eigen::Vector3d(1, -1, 1);
  CHECK(std::isnan(solve_least_squares(line_design({0, 1, 2}), Eigen::Vector3d(1, 2, 3), weights).parameters(0)));
}

TEST_CASE("sizes that do not agree are the caller's mistake") {
  const Eigen::VectorXd two = Eigen::Vector2d(1, 1);
  CHECK_THROWS_AS(solve_least_squares(line_design({0, 1, 2}), two), std::invalid_argument);
  CHECK_THROWS_AS(solve_least_squares(line_design({0, 1, 2}), Eigen::Vector3d(1, 2, 3), two), std::invalid_argument);
  CHECK_THROWS_AS(polynomial_design(std::vector<double>{1.0}, -1), std::invalid_argument);
}

TEST_CASE("the polynomial design holds the powers of the abscissae") {
  const auto design = polynomial_design(std::vector<double>{2.0, -3.0}, 3);
  CHECK(design.rows() == 2);
  CHECK(design.cols() == 4);
  CHECK(within(static_cast<double>(design(0, 3)), 8.0, 0.0));
  CHECK(within(static_cast<double>(design(1, 0)), 1.0, 0.0));
  CHECK(within(static_cast<double>(design(1, 3)), -27.0, 0.0));
}
