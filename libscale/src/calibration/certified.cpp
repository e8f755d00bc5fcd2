#include "calibration/certified.h"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "calibration/numbering.h"
#include "numeric/distributions.h"
#include "numeric/least_squares.h"
#include "numeric/straight_line.h"

namespace scale::calibration {
namespace {

// The used graduations, with what the certificate says of them.
struct Points {
  std::vector<double> number, position_px, uncertainty_px, correction_um;
};

Points used_points(const Ruling& ruling) {
  Points points;
  for (const Graduation& line : ruling.graduations) {
    if (!line.used) continue;
    points.number.push_back(line.index);
    points.position_px.push_back(line.position_px);
    points.uncertainty_px.push_back(line.uncertainty_px);
  }
  return points;
}

void add_corrections(Points& points, const Numbering& numbering, const ReferenceScale& scale) {
  for (const double index : points.number)
    points.correction_um.push_back(
        correction_at(scale, (numbering.first + numbering.step * index) * scale.division.value));
}

bool weighted(const Points& points) {
  return std::all_of(points.uncertainty_px.begin(), points.uncertainty_px.end(), [](double u) { return u > 0.0; });
}

// Slope of `values` over the graduation numbers with the weights of the fit, and what their scatter makes of it.
numeric::StraightLine line_over(const Points& points, const std::vector<double>& values) {
  return weighted(points) ? numeric::fit_line(points.number, values, points.uncertainty_px)
                          : numeric::fit_line(points.number, values);
}

// Standard uncertainty of the slope from the scatter about the line (Birge ratio of the weighted fit).
double scatter_uncertainty(const numeric::StraightLine& line, const Points& points) {
  return weighted(points) ? line.slope_uncertainty * line.residual_sd : line.slope_uncertainty;
}

// The smooth departure that is left when the corrections are taken off: a cubic over the span, by the F-test at 1 %
// that the ruling itself is put to. In pixels; 0 where it is not significant.
double departure_left(const Points& points, const std::vector<double>& corrected_px) {
  constexpr double kSignificance = 0.01;
  constexpr std::size_t kLeastPoints = 7;
  if (points.number.size() < kLeastPoints) return 0.0;
  const double middle = 0.5 * (points.number.front() + points.number.back());
  const double half = 0.5 * (points.number.back() - points.number.front());
  std::vector<double> z;
  for (const double number : points.number) z.push_back((number - middle) / half);
  const Eigen::VectorXd values = Eigen::Map<const Eigen::VectorXd>(corrected_px.data(), std::ssize(corrected_px));
  const auto straight = numeric::solve_least_squares(numeric::polynomial_design(z, 1), values);
  const auto bent = numeric::solve_least_squares(numeric::polynomial_design(z, 3), values);
  const double ratio = (straight.residual_sum_of_squares - bent.residual_sum_of_squares) / 2.0 /
                       (bent.residual_sum_of_squares / bent.degrees_of_freedom);
  if (!(numeric::f_survival(ratio, 2.0, bent.degrees_of_freedom) < kSignificance)) return 0.0;
  double most = 0.0;
  for (const double at : z) {
    const double line = straight.parameters[0] + straight.parameters[1] * at;
    const double curve =
        ((bent.parameters[3] * at + bent.parameters[2]) * at + bent.parameters[1]) * at + bent.parameters[0];
    most = std::max(most, std::abs(curve - line));
  }
  return most;
}

// The fit's uncertainty was found with nominal positions. With certified ones the scatter changes; what the fit holds
// beyond its scatter, for a pitch that changes along the scale, stays where it still changes.
double certified_fit_uncertainty(const Ruling& ruling, const Points& points, const std::vector<double>& corrected_px,
                                 bool still_bent) {
  const double nominal = scatter_uncertainty(line_over(points, points.position_px), points);
  const double certified = scatter_uncertainty(line_over(points, corrected_px), points);
  const double beyond = std::max(0.0, std::pow(ruling.pitch_uncertainty_px, 2) - nominal * nominal);
  const double combined = std::sqrt((still_bent ? beyond : 0.0) + certified * certified);
  return std::isfinite(combined) && combined > 0.0 ? combined : ruling.pitch_uncertainty_px;
}

void set_residuals(CalibratedAxis& axis, const Points& points, const numeric::StraightLine& line) {
  double squares = 0.0, most = 0.0;
  for (std::size_t i = 0; i < points.number.size(); ++i) {
    // The weights leave the line through the weighted middle, so residuals are taken from the line itself.
    const double residual = points.position_px[i] - line.intercept - line.slope * points.number[i];
    squares += residual * residual;
    most = std::max(most, std::abs(residual));
  }
  axis.residual_rms_um = axis.um_per_pixel * std::sqrt(squares / static_cast<double>(points.number.size()));
  axis.residual_max_um = axis.um_per_pixel * most;
}

// What the fit's uncertainty holds beyond the noise of the picture, in pixels.
double beyond_noise(const Ruling& ruling) {
  const Points points = used_points(ruling);
  if (!weighted(points)) return 0.0;
  const double noise = line_over(points, points.position_px).slope_uncertainty;
  return std::sqrt(std::max(0.0, std::pow(ruling.pitch_uncertainty_px, 2) - noise * noise));
}

CalibratedAxis numbered_axis(const Ruling& ruling, const ReferenceScale& scale, const Numbering& numbering) {
  Points points = used_points(ruling);
  add_corrections(points, numbering, scale);
  // Against the index the corrections run backwards when the numbers do.
  const double slope_um = line_over(points, points.correction_um).slope * numbering.step;
  CalibratedAxis axis = nominal_axis(ruling, scale.division.value + slope_um);
  const double px_per_um = 1.0 / axis.um_per_pixel;
  std::vector<double> corrected = points.position_px;
  for (std::size_t i = 0; i < corrected.size(); ++i)
    corrected[i] -= numbering.step * points.correction_um[i] * px_per_um;
  const double departure = departure_left(points, corrected);
  axis.nonlinearity_max_um = axis.um_per_pixel * departure;
  axis.field_limits = 2.0 * axis.nonlinearity_max_um / axis.span_um;
  axis.fit_uncertainty =
      axis.um_per_pixel * certified_fit_uncertainty(ruling, points, corrected, departure > 0.0) / ruling.pitch_px;
  axis.graduation_uncertainty = 0.0;
  points.position_px = corrected;
  set_residuals(axis, points, line_over(points, corrected));
  axis.numbering = numbering;
  return axis;
}

// Least-squares slope of the corrections between two places, sampled at every division.
double slope_between(const ReferenceScale& scale, double from_um, double to_um) {
  const int steps = std::max(1, static_cast<int>(std::lround((to_um - from_um) / scale.division.value)));
  std::vector<double> position, deviation;
  for (int i = 0; i <= steps; ++i) {
    position.push_back(from_um + (to_um - from_um) * i / steps);
    deviation.push_back(correction_at(scale, position.back()));
  }
  return numeric::fit_line(position, deviation).slope;
}

double length_of(const ReferenceScale& scale) {
  return scale.divisions > 0 ? scale.divisions * scale.division.value : scale.corrections.back().position.value;
}

}  // namespace

double correction_at(const ReferenceScale& scale, double position_um) {
  const auto& table = scale.corrections;
  if (table.empty()) return 0.0;
  const auto after = std::lower_bound(table.begin(), table.end(), position_um,
                                      [](const Correction& row, double place) { return row.position.value < place; });
  if (after == table.begin()) return table.front().deviation.value;
  if (after == table.end()) return table.back().deviation.value;
  const auto before = std::prev(after);
  const double share = (position_um - before->position.value) / (after->position.value - before->position.value);
  return before->deviation.value + share * (after->deviation.value - before->deviation.value);
}

double mean_correction_slope(const ReferenceScale& scale) {
  return scale.corrections.size() < 2 ? 0.0 : slope_between(scale, 0.0, length_of(scale));
}

double slope_variation(const ReferenceScale& scale, double span_um) {
  if (scale.corrections.size() < 2) return 0.0;
  const double length = length_of(scale), mean = mean_correction_slope(scale);
  double most = 0.0;
  for (double from = 0.0; from + span_um <= length * (1.0 + 1e-9); from += scale.division.value)
    most = std::max(most, std::abs(slope_between(scale, from, from + span_um) - mean));
  return most;
}

CalibratedAxis nominal_axis(const Ruling& ruling, double division_um) {
  const MicrometresPerPixel factor = Micrometres{division_um} / Pixels{ruling.pitch_px};
  CalibratedAxis axis;
  axis.um_per_pixel = factor.value;
  axis.fit_uncertainty = factor.value * ruling.pitch_uncertainty_px / ruling.pitch_px;
  axis.fit_degrees_of_freedom = ruling.degrees_of_freedom;
  axis.graduation_uncertainty = factor.value * beyond_noise(ruling) / ruling.pitch_px;
  axis.residual_rms_um = (factor * Pixels{ruling.residual_rms_px}).value;
  axis.residual_max_um = (factor * Pixels{ruling.residual_max_px}).value;
  axis.nonlinearity_max_um = (factor * Pixels{ruling.nonlinearity_max_px}).value;
  axis.span_um = division_um * (ruling.graduations.back().index - ruling.graduations.front().index);
  axis.field_limits = 2.0 * axis.nonlinearity_max_um / axis.span_um;
  return axis;
}

CalibratedAxis calibrate_axis(const Ruling& ruling, int width, int height, const ReferenceScale& scale,
                              const ShotHints& hints) {
  if (scale.corrections.size() < 2) {
    CalibratedAxis axis = nominal_axis(ruling, scale.division.value);
    // Numbers are wanted all the same where several shots are compared; that costs nothing.
    if (scale.divisions > 0) axis.numbering = number_graduations(ruling, width, height, scale, hints);
    return axis;
  }
  const Numbering numbering = number_graduations(ruling, width, height, scale, hints);
  if (numbering.known) return numbered_axis(ruling, scale, numbering);
  CalibratedAxis axis = nominal_axis(ruling, scale.division.value * (1.0 + mean_correction_slope(scale)));
  axis.numbering = numbering;
  axis.numbering_limits = slope_variation(scale, axis.span_um);
  return axis;
}

double certificate_uncertainty(const CertifiedUncertainty& stated, double span_um, double squares_um2) {
  const double length = stated.independent_positions
                            ? std::hypot(stated.constant.value / std::sqrt(squares_um2), stated.per_length)
                            : stated.constant.value / span_um + stated.per_length;
  return length / stated.coverage_factor;
}

double certificate_uncertainty(const Ruling& ruling, const CalibratedAxis& axis, const ReferenceScale& scale) {
  const Points points = used_points(ruling);
  double mean = 0.0, squares = 0.0;
  for (const double index : points.number) mean += index / static_cast<double>(points.number.size());
  for (const double index : points.number) squares += std::pow((index - mean) * scale.division.value, 2);
  return certificate_uncertainty(scale.uncertainty.value(), axis.span_um, squares);
}

}  // namespace scale::calibration
