#include "calibration/separation.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>

#include "calibration/certified.h"
#include "numeric/distributions.h"
#include "numeric/straight_line.h"

namespace scale::calibration {
namespace {

constexpr double kSignificance = 0.01;  // of the F-test
constexpr double kLeastMove = 2.0;      // divisions between the middles of two shots
// A line is not placed better than this, whatever its scatter along its length says: bias of its shape over the field.
constexpr double kLeastUncertaintyPx = 0.003;
constexpr double kLeastErrorPx = 1e-3;
// Of a cubic x^3 on [-h, h] less its straight line: 0.4 h^3 at the ends.
constexpr double kCubicDeparture = 0.4;

struct Observation {
  std::size_t shot;  // place among the inputs
  int number;        // of the graduation
  double along, across, nominal_um, position_um, step, sigma;
};

struct Frame {
  double x, y, half_diagonal;
};

Frame frame_of(const Shot& shot) {
  return {0.5 * (shot.width - 1), 0.5 * (shot.height - 1), 0.5 * std::hypot(shot.width, shot.height)};
}

void observe(const SeparationInput& input, std::size_t place, const ReferenceScale& scale,
             std::vector<Observation>& observations) {
  const Ruling& ruling = *input.ruling;
  const Frame frame = frame_of(*input.shot);
  const double c = std::cos(ruling.direction.value), s = std::sin(ruling.direction.value);
  const Numbering& numbering = input.axis->numbering;
  for (const Graduation& line : ruling.graduations) {
    if (!line.used) continue;
    const double x = 0.5 * (line.x1_px + line.x2_px) - frame.x, y = 0.5 * (line.y1_px + line.y2_px) - frame.y;
    const int number = numbering.first + numbering.step * line.index;
    const double nominal = number * scale.division.value;
    observations.push_back({place, number, line.position_px - frame.x * c - frame.y * s, -x * s + y * c, nominal,
                            nominal + correction_at(scale, nominal), static_cast<double>(numbering.step),
                            std::max(kLeastUncertaintyPx, line.uncertainty_px)});
  }
}

// Number, with its fraction, of the place in the middle of the picture.
double middle_number(const SeparationInput& input) {
  const Frame frame = frame_of(*input.shot);
  const double c = std::cos(input.ruling->direction.value), s = std::sin(input.ruling->direction.value);
  const double index = (frame.x * c + frame.y * s - input.ruling->origin_px) / input.ruling->pitch_px;
  return input.axis->numbering.first + input.axis->numbering.step * index;
}

// Why these shots cannot tell the two apart; empty when they can.
std::string obstacle(std::span<const SeparationInput> inputs) {
  if (inputs.size() < 2)
    return "it takes two shots or more, with the scale moved between them and its graduations numbered";
  std::vector<double> middles;
  for (const SeparationInput& input : inputs) middles.push_back(middle_number(input));
  const auto [least, most] = std::minmax_element(middles.begin(), middles.end());
  if (*most - *least < kLeastMove) return "the scale was not moved by two divisions or more between the shots";
  return "";
}

// Scatter of the graduations about their places beyond the noise, pooled over the shots, in pixels.
double graduation_sd(std::span<const SeparationInput> inputs) {
  double squares = 0.0, noise = 0.0;
  for (const SeparationInput& input : inputs) {
    squares += std::pow(input.axis->residual_rms_um / input.axis->um_per_pixel, 2);
    double own = 0.0;
    for (const Graduation& line : input.ruling->graduations) own += std::pow(line.uncertainty_px, 2);
    noise += own / static_cast<double>(input.ruling->graduations.size());
  }
  return std::max(kLeastErrorPx, std::sqrt(std::max(0.0, squares - noise) / static_cast<double>(inputs.size())));
}

// Places between which positions were taken as straight: the rows of the certificate, or the long graduations. A row is
// the place of one line with that line's own error, which the lines between two rows inherit: an error of each row, as
// large as that of any graduation, keeps this from being taken for distortion.
std::vector<double> nodes_of(const ReferenceScale& scale) {
  std::vector<double> nodes;
  if (scale.corrections.size() >= 2)
    for (const Correction& row : scale.corrections) nodes.push_back(row.position.value);
  else
    for (int n = 0; n <= scale.divisions; n += std::max(5, scale.long_every)) nodes.push_back(n * scale.division.value);
  return nodes;
}

// How much the errors of two nodes count at a place: linear in between, the last one beyond the ends.
std::vector<std::pair<int, double>> shares_of_nodes(const std::vector<double>& nodes, double place) {
  const auto after = std::upper_bound(nodes.begin(), nodes.end(), place);
  if (after == nodes.begin()) return {{0, 1.0}};
  const int before = static_cast<int>(after - nodes.begin()) - 1;
  if (after == nodes.end()) return {{before, 1.0}};
  const double share = (place - nodes[static_cast<std::size_t>(before)]) / (*after - *std::prev(after));
  return {{before, 1.0 - share}, {before + 1, share}};
}

// Columns: offset and magnification of every shot, the error of every graduation and node, and last kappa.
struct JointFit {
  double kappa = 0.0, kappa_variance = 0.0, chi_squared = 0.0;
  double degrees_of_freedom = 0.0;
  double errors_rms_px = 0.0;
};

JointFit fit_jointly(const std::vector<Observation>& observations, const std::vector<double>& nodes, std::size_t shots,
                     double half_diagonal, double error_sd, bool with_kappa) {
  std::map<int, int> place;
  for (const Observation& o : observations) place.emplace(o.number, 0);
  int next = 0;
  for (auto& [number, column] : place) column = next++;
  const int first_error = 2 * static_cast<int>(shots);
  const int first_node = first_error + next;
  const int kappa = first_node + static_cast<int>(nodes.size());
  const int columns = kappa + (with_kappa ? 1 : 0);
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(columns, columns);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(columns);
  const double R = half_diagonal;
  double mean_position = 0.0;
  for (const Observation& o : observations) mean_position += o.position_um / static_cast<double>(observations.size());
  const auto row_of = [&](const Observation& o) {
    std::vector<std::pair<int, double>> row = {
        {static_cast<int>(2 * o.shot), 1.0},
        {static_cast<int>(2 * o.shot) + 1, o.step * (o.position_um - mean_position)},
        {first_error + place.at(o.number), o.step}};
    for (const auto& [node, share] : shares_of_nodes(nodes, o.nominal_um))
      row.emplace_back(first_node + node, o.step * share);
    if (with_kappa) row.emplace_back(kappa, o.along * (o.along * o.along + o.across * o.across) / (R * R));
    return row;
  };
  for (const Observation& o : observations) {
    const double weight = 1.0 / (o.sigma * o.sigma);
    const auto row = row_of(o);
    for (const auto& [i, a] : row) {
      right[i] += weight * a * o.along;
      for (const auto& [j, b] : row) normal(i, j) += weight * a * b;
    }
  }
  for (int i = first_error; i < kappa; ++i) normal(i, i) += 1.0 / (error_sd * error_sd);
  // Columns differ in unit: brought to unit diagonal before they are solved.
  const Eigen::VectorXd scaling = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd scaled = scaling.asDiagonal() * normal * scaling.asDiagonal();
  const Eigen::LDLT<Eigen::MatrixXd> solver(scaled);
  const Eigen::VectorXd solution = scaling.asDiagonal() * solver.solve(scaling.asDiagonal() * right);
  JointFit fit;
  for (const Observation& o : observations) {
    double residual = o.along;
    for (const auto& [i, a] : row_of(o)) residual -= a * solution[i];
    fit.chi_squared += std::pow(residual / o.sigma, 2);
  }
  for (int i = first_error; i < kappa; ++i) fit.chi_squared += std::pow(solution[i] / error_sd, 2);
  // A graduation's whole error is its own and its nodes'.
  for (const Observation& o : observations) {
    double error = solution[first_error + place.at(o.number)];
    for (const auto& [node, share] : shares_of_nodes(nodes, o.nominal_um)) error += share * solution[first_node + node];
    fit.errors_rms_px += error * error / static_cast<double>(observations.size());
  }
  fit.errors_rms_px = std::sqrt(fit.errors_rms_px);
  // The errors' priors count as observations, so they and the errors cancel.
  fit.degrees_of_freedom = static_cast<double>(observations.size()) - first_error - (with_kappa ? 1 : 0);
  if (with_kappa) {
    fit.kappa = solution[kappa];
    const Eigen::VectorXd unit = Eigen::VectorXd::Unit(columns, kappa);
    fit.kappa_variance = scaling[kappa] * scaling[kappa] * solver.solve(unit)[kappa];
  }
  return fit;
}

// Half the measuring area along and across a direction, from the middle of the picture to its farther end.
struct Reach {
  double along, across;
};

Reach reach_of(const MeasuringArea& area, const Frame& frame, char direction) {
  const double x = std::max(std::abs(area.x - frame.x), std::abs(area.x + area.width - frame.x));
  const double y = std::max(std::abs(area.y - frame.y), std::abs(area.y + area.height - frame.y));
  return direction == 'x' ? Reach{x, y} : Reach{y, x};
}

char direction_of(const Ruling& ruling) { return std::abs(degrees(ruling.direction)) <= 45.0 ? 'x' : 'y'; }

}  // namespace

Separation separate(std::span<const SeparationInput> inputs, const ReferenceScale& scale, const MeasuringArea& area) {
  Separation result;
  result.shots = static_cast<int>(inputs.size());
  result.reason = obstacle(inputs);
  if (!result.reason.empty()) return result;
  std::vector<Observation> observations;
  for (std::size_t i = 0; i < inputs.size(); ++i) observe(inputs[i], i, scale, observations);
  const Frame frame = frame_of(*inputs.front().shot);
  const double error_sd = graduation_sd(inputs);
  const std::vector<double> nodes = nodes_of(scale);
  const JointFit without = fit_jointly(observations, nodes, inputs.size(), frame.half_diagonal, error_sd, false);
  const JointFit with = fit_jointly(observations, nodes, inputs.size(), frame.half_diagonal, error_sd, true);
  if (with.degrees_of_freedom < 1.0) {
    result.reason = "too few graduations are in view";
    return result;
  }
  // Uncertainties along a line do not know what the whole line is off by; the scatter of the fit does.
  const double scatter = std::max(1.0, with.chi_squared / with.degrees_of_freedom);
  const double ratio = std::max(0.0, without.chi_squared - with.chi_squared) / scatter;
  result.done = true;
  result.kappa = with.kappa;
  result.kappa_uncertainty = std::sqrt(with.kappa_variance * scatter);
  result.p_value = numeric::f_survival(ratio, 1.0, with.degrees_of_freedom);
  result.significant = result.p_value < kSignificance;
  const double um_per_pixel = inputs.front().axis->um_per_pixel;
  const Reach reach = reach_of(area, frame, direction_of(*inputs.front().ruling));
  result.optics_max_um = um_per_pixel * kCubicDeparture * std::abs(result.kappa) * std::pow(reach.along, 3) /
                         std::pow(frame.half_diagonal, 2);
  result.graduations_rms_um = with.errors_rms_px * um_per_pixel;
  return result;
}

double area_correction(const SeparationInput& input, double kappa, const MeasuringArea& area) {
  const Frame frame = frame_of(*input.shot);
  const double c = std::cos(input.ruling->direction.value), s = std::sin(input.ruling->direction.value);
  std::vector<double> along, bent;
  for (const Graduation& line : input.ruling->graduations) {
    if (!line.used) continue;
    const double x = 0.5 * (line.x1_px + line.x2_px) - frame.x, y = 0.5 * (line.y1_px + line.y2_px) - frame.y;
    const double t = line.position_px - frame.x * c - frame.y * s, v = -x * s + y * c;
    along.push_back(t);
    bent.push_back(t * (t * t + v * v) / std::pow(frame.half_diagonal, 2));
  }
  // What the pitch is the mean of: where its fit has a cubic, from end to end of the span, else a straight line's
  // slope.
  const bool end_to_end = input.ruling->nonlinearity.size() > 3;
  const double over_span = kappa * (end_to_end ? (bent.back() - bent.front()) / (along.back() - along.front())
                                               : numeric::fit_line(along, bent).slope);
  const Reach reach = reach_of(area, frame, direction_of(*input.ruling));
  // Mean over the area of d/ds of s (s^2 + v^2): h^2 along, a third of h_v^2 across.
  const double over_area =
      kappa * (reach.along * reach.along + reach.across * reach.across / 3.0) / std::pow(frame.half_diagonal, 2);
  return (1.0 + over_span) / (1.0 + over_area) - 1.0;
}

}  // namespace scale::calibration
