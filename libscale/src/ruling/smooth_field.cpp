#include "ruling/smooth_field.h"

#include <algorithm>
#include <cmath>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr int kRounds = 5;
constexpr double kHuber = 2.0;  // robust scales
constexpr double kRidge = 1e-9;

using Samples = std::vector<Eigen::Vector3d>;

struct System {
  Eigen::MatrixXd design;
  Eigen::VectorXd observed, weight;
};

Eigen::VectorXd solution_of(const System& s) {
  const Eigen::MatrixXd weighted = s.design.transpose() * s.weight.asDiagonal(), normal = weighted * s.design;
  const Eigen::Index terms = normal.rows();
  return (normal + kRidge * normal.trace() * Eigen::MatrixXd::Identity(terms, terms))
      .ldlt()
      .solve(weighted * s.observed);
}

// Weights by what `solution` leaves; returns its robust scale.
double reweigh(System& s, const Eigen::VectorXd& solution) {
  const Eigen::VectorXd residual = (s.observed - s.design * solution).cwiseAbs();
  const double scale =
      numeric::kMadToSigma * numeric::upper_median(std::vector<double>(residual.begin(), residual.end()));
  if (scale > 0.0) s.weight = (residual / (kHuber * scale)).cwiseMax(1.0).cwiseInverse();
  return scale;
}

// `system` less the weighted mean of every run of samples of the same height.
void take_out_levels(const Samples& samples, System& system) {
  for (std::size_t from = 0, to = 0; from < samples.size(); from = to) {
    while (to < samples.size() && samples[to](1) == samples[from](1)) ++to;
    const auto first = static_cast<Eigen::Index>(from), n = static_cast<Eigen::Index>(to - from);
    const Eigen::RowVectorXd share =
        system.weight.segment(first, n).transpose() / system.weight.segment(first, n).sum();
    const Eigen::RowVectorXd mean = share * system.design.middleRows(first, n);
    const double level = share * system.observed.segment(first, n);
    system.design.middleRows(first, n).rowwise() -= mean;
    system.observed.segment(first, n).array() -= level;
  }
}

}  // namespace

void SmoothField::fit(const Samples& samples, Slopes slopes) {
  const Eigen::Index n = static_cast<Eigen::Index>(samples.size());
  System system{Eigen::MatrixXd(n, count()), Eigen::VectorXd(n), Eigen::VectorXd::Ones(n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    const Eigen::Vector3d& sample = samples[static_cast<std::size_t>(i)];
    system.design.row(i) = row(sample(0), sample(1)).transpose();
    system.observed(i) = sample(2);
  }
  for (int round = 0; round < kRounds; ++round) {
    coefficients_ = solution_of(system);
    scale_ = reweigh(system, coefficients_);
  }
  slopes_ = coefficients_;
  if (slopes == Slopes::of_the_field) return;
  system.weight.setOnes();
  for (int round = 0; round < kRounds; ++round) {
    System levelled = system;
    take_out_levels(samples, levelled);
    slopes_ = solution_of(levelled);
    reweigh(levelled, slopes_);
    system.weight = std::move(levelled.weight);
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
