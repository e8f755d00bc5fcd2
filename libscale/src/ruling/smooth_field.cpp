#include "ruling/smooth_field.h"

#include <algorithm>
#include <cmath>

#include "numeric/robust.h"

namespace scale {

void SmoothField::fit(const std::vector<Eigen::Vector3d>& samples) {
  const Eigen::Index terms = count(), n = static_cast<Eigen::Index>(samples.size());
  Eigen::MatrixXd design(n, terms);
  Eigen::VectorXd observed(n), weight = Eigen::VectorXd::Ones(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    design.row(i) = row(samples[static_cast<std::size_t>(i)](0), samples[static_cast<std::size_t>(i)](1)).transpose();
    observed(i) = samples[static_cast<std::size_t>(i)](2);
  }
  for (int pass = 0; pass < 5; ++pass) {
    const Eigen::MatrixXd normal = design.transpose() * weight.asDiagonal() * design;
    coefficients_ = (normal + 1e-9 * normal.trace() * Eigen::MatrixXd::Identity(terms, terms))
                        .ldlt()
                        .solve(design.transpose() * weight.asDiagonal() * observed);
    const Eigen::VectorXd residual = observed - design * coefficients_;
    std::vector<double> magnitude(static_cast<std::size_t>(n));
    for (Eigen::Index i = 0; i < n; ++i) magnitude[static_cast<std::size_t>(i)] = std::abs(residual(i));
    scale_ = 1.4826 * numeric::upper_median(magnitude);
    if (scale_ <= 0.0) break;
    for (Eigen::Index i = 0; i < n; ++i) weight(i) = 1.0 / std::max(1.0, std::abs(residual(i)) / (2.0 * scale_));
  }
}

Eigen::Index SmoothField::count() const {
  Eigen::Index n = 0;
  for (int i = 0; i <= along_; ++i) n += std::min(across_, std::max(along_, across_) - i) + 1;
  return n;
}

SmoothField::Row SmoothField::row(double z1, double z2, bool slope) const {
  Row r(count());
  Eigen::Index n = 0;
  double along = 1.0, before = 0.0;  // z1^i and its derivative
  for (int i = 0; i <= along_; ++i) {
    double across = slope ? before : along;
    for (int j = 0; j <= across_ && i + j <= std::max(along_, across_); ++j, across *= z2) r(n++) = across;
    before = (i + 1) * along;
    along *= z1;
  }
  return r;
}

}  // namespace scale
