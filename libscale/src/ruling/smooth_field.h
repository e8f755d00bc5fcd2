// A polynomial over index and height along the lines: background and amplitude of a ruling's windows.
//
// Model. value = Sum c_ij z1^i z2^j, i and j up to the degree of their direction, i + j up to the larger of both; z1
// runs from -1 to 1 over the lines, z2 over the strips. Fitted by least squares with Huber's weights at twice the
// robust scale (P. J. Huber, Robust Statistics, 1981), five rounds.
#pragma once

#include <vector>

#include <Eigen/Dense>

namespace scale {

class SmoothField {
 public:
  // Slopes along the lines of the same fit, or of a second one that has a level of its own at every height: a base
  // line, or the lines of a grid, cross all lines there, narrower than the polynomial can follow.
  enum class Slopes { of_the_field, of_each_height };

  SmoothField(int degree_along, int degree_across) : along_(degree_along), across_(degree_across) {}

  // Samples (z1, z2, value), more than there are terms, those of one height in a row.
  void fit(const std::vector<Eigen::Vector3d>& samples, Slopes slopes);
  double value(double z1, double z2) const { return row(z1, z2).dot(coefficients_); }
  // Derivative by z1.
  double slope_along(double z1, double z2) const { return row(z1, z2, true).dot(slopes_); }
  // 1.4826 median of the absolute residuals.
  double scatter() const { return scale_; }

 private:
  static constexpr int kMostTerms = 10;  // of degree 3 by 2
  using Row = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMostTerms, 1>;
  Eigen::Index count() const;
  // The terms, or with `slope` their derivatives by z1.
  Row row(double z1, double z2, bool slope = false) const;

  int along_, across_;
  Eigen::VectorXd coefficients_, slopes_;
  double scale_ = 0.0;
};

}  // namespace scale
