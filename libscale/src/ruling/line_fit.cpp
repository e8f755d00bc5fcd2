#include "ruling/line_fit.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>

namespace scale {

namespace {

constexpr double kSignificance = 0.01;
// Of a change over the field: a curve where there is none triples the variance of the pitch.
constexpr double kShapeSignificance = 0.001;
// Of one that may be there, though it is not taken: what it would change is then in doubt.
constexpr double kShapeSuspicion = 0.05;
constexpr double kPriorFreedom = 4.0;      // how far the windows' own prediction is trusted
constexpr std::size_t kLeastForShape = 6;  // lines, before a change over the field can be told from chance
constexpr double kStartOutlier = 6.0;      // robust standard deviations
// Where the pitch changes over the field its mean depends on the part of the field that is meant; the lines seen pin it
// down to about half of the change (rectangular: / sqrt 12). Judgement, checked by the accuracy suite.
constexpr double kDefinition = 0.5 / 3.4641016151377544;
constexpr double kLargestDropped = 0.4;  // of the lines

struct Problem {
  std::vector<LinePoint> points;
  std::vector<bool> used;
  double middle = 0.0, half = 1.0;

  double z(std::size_t i) const { return (points[i].index - middle) / half; }
  Eigen::Index count() const { return std::count(used.begin(), used.end(), true); }
};

struct Solution {
  Eigen::VectorXd coefficients;
  Eigen::MatrixXd covariance;  // for unit scale
  double chi_squared = 0.0;
  Eigen::Index freedom = 0;
  std::vector<double> residual, leverage;  // of every point; leverage of the used ones
};

double value_at(const Eigen::VectorXd& c, double z) {
  double value = 0.0;
  for (Eigen::Index i = c.size(); i-- > 0;) value = value * z + c(i);
  return value;
}

Solution solve(const Problem& problem, int degree, double tau, const std::vector<double>* robust = nullptr) {
  const Eigen::Index n = problem.count(), terms = degree + 1;
  Eigen::MatrixXd design(n, terms);
  Eigen::VectorXd observed(n);
  std::vector<double> root(problem.points.size(), 0.0);
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < problem.points.size(); ++i) {
    if (!problem.used[i]) continue;
    const double sigma = problem.points[i].sigma;
    root[i] = 1.0 / std::sqrt(sigma * sigma + tau * tau);
    if (robust != nullptr) root[i] *= std::sqrt((*robust)[i]);
    double power = root[i];
    for (Eigen::Index k = 0; k < terms; ++k, power *= problem.z(i)) design(row, k) = power;
    observed(row++) = root[i] * problem.points[i].t;
  }
  Solution solution;
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(design);
  solution.coefficients = qr.solve(observed);
  const Eigen::MatrixXd r_inverse = qr.matrixQR()
                                        .topLeftCorner(terms, terms)
                                        .triangularView<Eigen::Upper>()
                                        .solve(Eigen::MatrixXd::Identity(terms, terms));
  solution.covariance = r_inverse * r_inverse.transpose();
  solution.freedom = n - terms;
  for (std::size_t i = 0; i < problem.points.size(); ++i) {
    const double residual = problem.points[i].t - value_at(solution.coefficients, problem.z(i));
    solution.residual.push_back(residual);
    Eigen::VectorXd basis(terms);
    double power = 1.0;
    for (Eigen::Index k = 0; k < terms; ++k, power *= problem.z(i)) basis(k) = power;
    solution.leverage.push_back(root[i] * root[i] * basis.dot(solution.covariance * basis));
    solution.chi_squared += root[i] * root[i] * residual * residual;
  }
  return solution;
}

// Scatter of neighbours about each other: 1.4826 MAD of second differences over sqrt(6).
double neighbour_scatter(const Problem& problem) {
  std::vector<double> seconds;
  const auto& p = problem.points;
  for (std::size_t i = 1; i + 1 < p.size(); ++i) {
    const double before = p[i].index - p[i - 1].index, after = p[i + 1].index - p[i].index;
    const double bend = (p[i + 1].t - p[i].t) / after - (p[i].t - p[i - 1].t) / before;
    const double norm =
        std::sqrt(1.0 / (after * after) + 1.0 / (before * before) + std::pow(1.0 / after + 1.0 / before, 2));
    seconds.push_back(std::abs(bend) / norm);
  }
  if (seconds.empty()) return 0.0;
  const auto middle = seconds.begin() + static_cast<std::ptrdiff_t>(seconds.size() / 2);
  std::nth_element(seconds.begin(), middle, seconds.end());
  return 1.4826 * *middle;
}

// Mean pitch from the first line to the last.
double chord(const Eigen::VectorXd& coefficients, double half) {
  return (value_at(coefficients, 1.0) - value_at(coefficients, -1.0)) / (2.0 * half);
}

int flexible_degree(std::size_t lines) { return lines >= kLeastForShape ? 3 : 1; }

// Lines that lie far off a curve of this degree through most of them, farthest first.
std::vector<std::size_t> far_from_curve(const Problem& problem, int degree, double scale) {
  std::vector<double> weight(problem.points.size(), 1.0);
  Solution solution;
  for (int pass = 0; pass < 25; ++pass) {
    solution = solve(problem, degree, scale, &weight);
    for (std::size_t i = 0; i < weight.size(); ++i)
      weight[i] = 1.0 / std::max(1.0, std::abs(solution.residual[i]) / (1.345 * scale));
  }
  std::vector<std::size_t> far;
  for (std::size_t i = 0; i < weight.size(); ++i)
    if (std::abs(solution.residual[i]) > kStartOutlier * std::hypot(scale, problem.points[i].sigma)) far.push_back(i);
  std::sort(far.begin(), far.end(), [&](std::size_t a, std::size_t b) {
    return std::abs(solution.residual[a]) > std::abs(solution.residual[b]);
  });
  return far;
}

// A cubic follows two end lines that are off (the ground beyond them differs) and calls their neighbours outliers:
// where a straight line leaves no more out, it is the start.
void drop_gross(Problem& problem) {
  double typical = 0.0;
  for (const LinePoint& p : problem.points) typical += p.sigma / static_cast<double>(problem.points.size());
  const double scale = std::max(neighbour_scatter(problem), typical);
  std::vector<std::size_t> far = far_from_curve(problem, flexible_degree(problem.points.size()), scale);
  if (!far.empty())
    if (std::vector<std::size_t> straight = far_from_curve(problem, 1, scale); straight.size() <= far.size())
      far = std::move(straight);
  const std::size_t most = static_cast<std::size_t>(kLargestDropped * static_cast<double>(problem.points.size()));
  for (std::size_t k = 0; k < std::min(far.size(), most); ++k)
    if (problem.count() > 4) problem.used[far[k]] = false;
}

// tau that makes chi^2 equal to its degrees of freedom; 0 when it already is below.
double between_lines(const Problem& problem, int degree) {
  const auto excess = [&](double tau) {
    const Solution s = solve(problem, degree, tau);
    return s.chi_squared - static_cast<double>(s.freedom);
  };
  if (excess(0.0) <= 0.0) return 0.0;
  double low = 0.0, high = 1e-6;
  while (excess(high) > 0.0 && high < 1e6) low = high, high *= 4.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (excess(middle) > 0.0 ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double f_survival(double value, double first, double second) {
  if (!(value > 0.0) || first <= 0.0 || second <= 0.0) return 1.0;
  return boost::math::cdf(boost::math::complement(boost::math::fisher_f(first, std::min(second, 1e6)), value));
}

struct Model {
  int degree = 1;
  double tau = 0.0;
  double p_value = 1.0;
  double doubt = 0.0;  // of the pitch: what a curve that may be there would change
};

Model choose_model(const Problem& problem) {
  Model model;
  const std::size_t n = static_cast<std::size_t>(problem.count());
  if (n >= kLeastForShape) {
    const int flexible = flexible_degree(n);
    const double tau = between_lines(problem, flexible);
    const Solution line = solve(problem, 1, tau), curve = solve(problem, flexible, tau);
    const double extra = flexible - 1.0;
    const double f =
        (line.chi_squared - curve.chi_squared) / extra / (curve.chi_squared / static_cast<double>(curve.freedom));
    model.p_value = f_survival(f, extra, static_cast<double>(curve.freedom));
    if (model.p_value < kShapeSignificance)
      model.degree = flexible;
    else if (model.p_value < kShapeSuspicion)
      model.doubt = std::abs(chord(curve.coefficients, problem.half) - chord(line.coefficients, problem.half));
  }
  return model;
}

// Names the line with the largest externally studentised residual when it is too large; false when none is.
bool drop_one(Problem& problem, const Solution& solution, double tau) {
  const double n = static_cast<double>(problem.count());
  const double freedom = static_cast<double>(solution.freedom) - 1.0;
  if (freedom < 2.0) return false;
  std::size_t worst = 0;
  double largest = 0.0;
  for (std::size_t i = 0; i < problem.points.size(); ++i) {
    if (!problem.used[i]) continue;
    const double sigma = std::hypot(problem.points[i].sigma, tau);
    const double z2 =
        solution.residual[i] * solution.residual[i] / (sigma * sigma * std::max(1e-9, 1.0 - solution.leverage[i]));
    const double rest = std::max(1e-12, (solution.chi_squared - z2) / freedom);
    const double t = std::sqrt(z2 / rest);
    if (t > largest) largest = t, worst = i;
  }
  const double limit =
      boost::math::quantile(boost::math::complement(boost::math::students_t(freedom), 0.5 * kSignificance / n));
  if (largest <= limit) return false;
  problem.used[worst] = false;
  return true;
}

// Standard uncertainty of the chord over the span, per division, for unit scale.
double pitch_sigma(const Solution& solution, double half) {
  Eigen::VectorXd gradient = Eigen::VectorXd::Zero(solution.coefficients.size());
  for (Eigen::Index k = 1; k < gradient.size(); k += 2) gradient(k) = 1.0 / half;  // (f(1) - f(-1)) / (2 half)
  return std::sqrt(gradient.dot(solution.covariance * gradient));
}

void describe_shape(const Problem& problem, const Solution& curve, LineFit& fit) {
  const Eigen::VectorXd& c = curve.coefficients;
  const Solution straight = solve(problem, 1, 0.0);
  fit.nonlinearity.assign(static_cast<std::size_t>(c.size()), 0.0);
  for (Eigen::Index k = 0; k < c.size(); ++k)
    fit.nonlinearity[static_cast<std::size_t>(k)] = c(k) - (k < 2 ? straight.coefficients(k) : 0.0);
  fit.local_pitch_low = fit.local_pitch_high = c(1) / problem.half;
  for (double z = -1.0; z <= 1.0; z += 0.05) {
    const double departure = value_at(c, z) - value_at(straight.coefficients, z);
    fit.nonlinearity_max = std::max(fit.nonlinearity_max, std::abs(departure));
    double slope = c(1);
    for (Eigen::Index k = 2; k < c.size(); ++k)
      slope += static_cast<double>(k) * c(k) * std::pow(z, static_cast<double>(k - 1));
    fit.local_pitch_low = std::min(fit.local_pitch_low, slope / problem.half);
    fit.local_pitch_high = std::max(fit.local_pitch_high, slope / problem.half);
  }
}

}  // namespace

LineFit fit_lines(const std::vector<LinePoint>& points, double sigma_freedom, double model_limit) {
  Problem problem{points, std::vector<bool>(points.size(), true), 0.0, 1.0};
  problem.middle = 0.5 * (points.front().index + points.back().index);
  problem.half = 0.5 * (points.back().index - points.front().index);
  if (points.size() >= 5) drop_gross(problem);
  Model model;
  Solution solution;
  for (;;) {
    model = choose_model(problem);
    const Solution plain = solve(problem, model.degree, 0.0);
    const double ratio = plain.freedom > 0 ? plain.chi_squared / static_cast<double>(plain.freedom) : 0.0;
    const bool contradicted =
        f_survival(ratio, static_cast<double>(plain.freedom), std::max(1.0, sigma_freedom)) < kSignificance;
    model.tau = contradicted ? between_lines(problem, model.degree) : 0.0;
    solution = model.tau > 0.0 ? solve(problem, model.degree, model.tau) : plain;
    if (!drop_one(problem, solution, model.tau)) break;
  }
  LineFit fit;
  const double freedom = static_cast<double>(solution.freedom);
  const double ratio = freedom > 0.0 ? solution.chi_squared / freedom : 1.0;
  double scale = 1.0;
  fit.degrees_of_freedom = std::max(1.0, freedom);
  if (model.tau == 0.0) {
    const double prior = std::min(kPriorFreedom, std::max(sigma_freedom, 0.0));
    scale = std::sqrt((prior + freedom * ratio) / std::max(1.0, prior + freedom));
    fit.degrees_of_freedom = std::max(1.0, prior + freedom);
  }
  fit.scatter_ratio = ratio;
  fit.pitch = chord(solution.coefficients, problem.half);
  fit.pitch_uncertainty = std::hypot(scale * pitch_sigma(solution, problem.half), model.doubt);
  fit.origin = value_at(solution.coefficients, (0.0 - problem.middle) / problem.half);
  fit.nonlinearity_p_value = model.p_value;
  fit.residual = solution.residual;
  fit.used = problem.used;
  fit.local_pitch_low = fit.local_pitch_high = fit.pitch;
  if (model.degree > 1) {
    describe_shape(problem, solution, fit);
    fit.pitch_uncertainty =
        std::hypot(fit.pitch_uncertainty, kDefinition * (fit.local_pitch_high - fit.local_pitch_low));
  }
  fit.pitch_uncertainty = std::hypot(fit.pitch_uncertainty, model_limit / (2.0 * problem.half));
  double sum = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!fit.used[i]) continue;
    sum += fit.residual[i] * fit.residual[i];
    fit.residual_max = std::max(fit.residual_max, std::abs(fit.residual[i]));
  }
  fit.residual_rms = std::sqrt(sum / std::max(1.0, freedom));
  return fit;
}

}  // namespace scale
