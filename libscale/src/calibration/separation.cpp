#include "calibration/separation.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <set>

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

struct Observation {
  std::size_t ruling;        // place among the inputs
  std::pair<int, int> line;  // ruler and number of the graduation
  double along, across, nominal_um, position_um, step, sigma;
};

struct Frame {
  double x, y, half_diagonal;
};

char direction_of(const Ruling& ruling) { return std::abs(degrees(ruling.direction)) <= 45.0 ? 'x' : 'y'; }

Frame frame_of(const Shot& shot) {
  return {0.5 * (shot.width - 1), 0.5 * (shot.height - 1), 0.5 * std::hypot(shot.width, shot.height)};
}

void observe(const SeparationInput& input, std::size_t place, int ruler, const ReferenceScale& scale,
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
    observations.push_back({place,
                            {ruler, number},
                            line.position_px - frame.x * c - frame.y * s,
                            -x * s + y * c,
                            nominal,
                            nominal + correction_at(scale, nominal),
                            static_cast<double>(numbering.step),
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

using Ruler = std::vector<SeparationInput>;

// The rulings by the line scale they show. One scale laid both ways shows the same graduations along x and y; crossed
// in one picture are two, one along each.
std::vector<Ruler> rulers_of(std::span<const SeparationInput> inputs) {
  const bool crossed = std::any_of(inputs.begin(), inputs.end(),
                                   [](const SeparationInput& input) { return input.shot->reading.rulings.size() > 1; });
  std::vector<Ruler> rulers(crossed ? 2 : 1);
  for (const SeparationInput& input : inputs)
    rulers[crossed && direction_of(*input.ruling) == 'y' ? 1 : 0].push_back(input);
  return rulers;
}

bool was_moved(const Ruler& ruler) {
  std::vector<double> middles;
  for (const SeparationInput& input : ruler) middles.push_back(middle_number(input));
  const auto [least, most] = std::minmax_element(middles.begin(), middles.end());
  return middles.size() > 1 && *most - *least >= kLeastMove;
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

using Row = std::vector<std::pair<int, double>>;

// Which column is whose: offset and magnification of every ruling, the error of every graduation and node, and last
// kappa, where it is looked for.
struct Columns {
  std::vector<double> nodes;  // of one ruler, in micrometres
  std::map<std::pair<int, int>, int> lines;
  int first_error = 0, first_node = 0, kappa = 0;
  double mean_position_um = 0.0, half_diagonal = 0.0;

  // What makes up a graduation's whole error: its own and its nodes', each with its share.
  Row errors_of(const Observation& o) const {
    Row errors = {{lines.at(o.line), 1.0}};
    const int nodes_before = first_node + o.line.first * static_cast<int>(nodes.size());
    for (const auto& [node, share] : shares_of_nodes(nodes, o.nominal_um))
      errors.emplace_back(nodes_before + node, share);
    return errors;
  }

  Row row_of(const Observation& o, bool with_kappa) const {
    const int own = 2 * static_cast<int>(o.ruling);
    Row row = {{own, 1.0}, {own + 1, o.step * (o.position_um - mean_position_um)}};
    for (const auto& [column, share] : errors_of(o)) row.emplace_back(column, o.step * share);
    const double from_middle = (o.along * o.along + o.across * o.across) / (half_diagonal * half_diagonal);
    if (with_kappa) row.emplace_back(kappa, o.along * from_middle);
    return row;
  }
};

Columns columns_of(const std::vector<Observation>& observations, const ReferenceScale& scale, double half_diagonal) {
  Columns columns;
  columns.nodes = nodes_of(scale);
  columns.half_diagonal = half_diagonal;
  columns.first_error = 2 * static_cast<int>(observations.back().ruling + 1);
  int rulers = 0;
  for (const Observation& o : observations) {
    columns.lines.emplace(o.line, 0);
    rulers = std::max(rulers, o.line.first + 1);
    columns.mean_position_um += o.position_um / static_cast<double>(observations.size());
  }
  columns.first_node = columns.first_error;
  for (auto& [line, column] : columns.lines) column = columns.first_node++;
  columns.kappa = columns.first_node + rulers * static_cast<int>(columns.nodes.size());
  return columns;
}

struct JointFit {
  double kappa = 0.0, kappa_variance = 0.0, chi_squared = 0.0;
  double degrees_of_freedom = 0.0;
  double errors_rms_px = 0.0;
};

// Normal equations brought to unit diagonal before they are solved, as columns differ in unit.
struct Solved {
  Eigen::VectorXd scaling, solution;
  Eigen::LDLT<Eigen::MatrixXd> solver;

  double variance(int column) const {
    Eigen::VectorXd of_inverse = Eigen::VectorXd::Unit(scaling.size(), column);
    solver.solveInPlace(of_inverse);
    return scaling[column] * scaling[column] * of_inverse[column];
  }
};

Solved solve(const std::vector<Observation>& observations, const Columns& columns, double error_sd, bool with_kappa) {
  const int count = columns.kappa + (with_kappa ? 1 : 0);
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(count, count);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(count);
  for (const Observation& o : observations) {
    const double weight = 1.0 / (o.sigma * o.sigma);
    const Row row = columns.row_of(o, with_kappa);
    for (const auto& [i, a] : row) {
      right[i] += weight * a * o.along;
      for (const auto& [j, b] : row) normal(i, j) += weight * a * b;
    }
  }
  for (int i = columns.first_error; i < columns.kappa; ++i) normal(i, i) += 1.0 / (error_sd * error_sd);
  Solved solved;
  solved.scaling = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  solved.solver.compute(solved.scaling.asDiagonal() * normal * solved.scaling.asDiagonal());
  solved.solution = solved.scaling.asDiagonal() * solved.solver.solve(solved.scaling.asDiagonal() * right);
  return solved;
}

JointFit fit_jointly(const std::vector<Observation>& observations, const Columns& columns, double error_sd,
                     bool with_kappa) {
  const Solved solved = solve(observations, columns, error_sd, with_kappa);
  const auto sum_over = [&](const Row& row) {
    double sum = 0.0;
    for (const auto& [i, a] : row) sum += a * solved.solution[i];
    return sum;
  };
  JointFit fit;
  double squares = 0.0;
  for (const Observation& o : observations) {
    fit.chi_squared += std::pow((o.along - sum_over(columns.row_of(o, with_kappa))) / o.sigma, 2);
    squares += std::pow(sum_over(columns.errors_of(o)), 2);
  }
  for (int i = columns.first_error; i < columns.kappa; ++i)
    fit.chi_squared += std::pow(solved.solution[i] / error_sd, 2);
  fit.errors_rms_px = std::sqrt(squares / static_cast<double>(observations.size()));
  // The errors' priors count as observations, so they and the errors cancel.
  fit.degrees_of_freedom = static_cast<double>(observations.size()) - columns.first_error - (with_kappa ? 1 : 0);
  if (with_kappa) {
    fit.kappa = solved.solution[columns.kappa];
    fit.kappa_variance = solved.variance(columns.kappa);
  }
  return fit;
}

// From where to where the measuring area reaches along an axis, from the middle of the picture.
struct Extent {
  double from, to;

  double half() const { return 0.5 * (to - from); }
  double middle() const { return 0.5 * (from + to); }
  double mean_square() const { return middle() * middle() + half() * half() / 3.0; }
};

Extent along_x(const MeasuringArea& area, const Frame& frame) {
  return {area.x - frame.x, area.x + area.width - frame.x};
}
Extent along_y(const MeasuringArea& area, const Frame& frame) {
  return {area.y - frame.y, area.y + area.height - frame.y};
}

// The largest departure of s^3 from its straight line, at the ends: 0.4 h^3 about the middle of the picture, and from
// 3 m t^2 beside it.
double cubic_departure(const Extent& along) {
  const double h = along.half();
  return 0.4 * h * h * h + 2.0 * std::abs(along.middle()) * h * h;
}

// Mean over the area of d/ds of s (s^2 + v^2), which is 3 s^2 + v^2.
double mean_stretch(const Extent& along, const Extent& across) {
  return 3.0 * along.mean_square() + across.mean_square();
}

int shots_among(const Ruler& inputs) {
  std::set<const Shot*> shots;
  for (const SeparationInput& input : inputs) shots.insert(input.shot);
  return static_cast<int>(shots.size());
}

}  // namespace

Separation separate(std::span<const SeparationInput> numbered, const ReferenceScale& scale, const MeasuringArea& area) {
  Separation result;
  std::vector<Ruler> rulers = rulers_of(numbered);
  // The errors of a scale that was not moved cannot be told from distortion, so it says nothing here.
  rulers.erase(std::remove_if(rulers.begin(), rulers.end(), [](const Ruler& ruler) { return !was_moved(ruler); }),
               rulers.end());
  if (rulers.empty()) {
    result.reason = numbered.size() < 2
                        ? "it takes two shots or more, with the scale moved between them and its graduations numbered"
                        : "the scale was not moved by two divisions or more between the shots";
    return result;
  }
  Ruler inputs;
  std::vector<Observation> observations;
  for (std::size_t ruler = 0; ruler < rulers.size(); ++ruler)
    for (const SeparationInput& input : rulers[ruler]) {
      observe(input, inputs.size(), static_cast<int>(ruler), scale, observations);
      inputs.push_back(input);
    }
  result.shots = shots_among(inputs);
  const Frame frame = frame_of(*inputs.front().shot);
  const double error_sd = graduation_sd(inputs);
  const Columns columns = columns_of(observations, scale, frame.half_diagonal);
  const JointFit without = fit_jointly(observations, columns, error_sd, false);
  const JointFit with = fit_jointly(observations, columns, error_sd, true);
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
  const double departure = std::max(cubic_departure(along_x(area, frame)), cubic_departure(along_y(area, frame)));
  result.optics_max_um = um_per_pixel * std::abs(result.kappa) * departure / std::pow(frame.half_diagonal, 2);
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
  const Extent x = along_x(area, frame), y = along_y(area, frame);
  const double stretch = direction_of(*input.ruling) == 'x' ? mean_stretch(x, y) : mean_stretch(y, x);
  const double over_area = kappa * stretch / std::pow(frame.half_diagonal, 2);
  return (1.0 + over_span) / (1.0 + over_area) - 1.0;
}

}  // namespace scale::calibration
