#include "scale/calibration.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <stdexcept>

namespace scale {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Axes that differ by less are not worth a word: a good instrument shows about 0.1 % (an example of NIST for an
// electron microscope, 9.875 and 9.885 nm a pixel).
constexpr double kAxesAgree = 2e-3;

// Standard uncertainty of a quantity known to lie within +-half_width, all places alike (JCGM 100, 4.3.7).
double rectangular(double half_width) { return half_width / std::sqrt(3.0); }

double span_px(const Ruling& ruling) {
  const int divisions = ruling.graduations.back().index - ruling.graduations.front().index;
  return divisions * ruling.pitch_px;
}

void require_sound(const Reading& reading, const ReferenceScale& scale) {
  if (reading.rulings.empty()) throw std::invalid_argument("calibrate: the reading holds no ruling");
  if (!(scale.division.value > 0.0) || !std::isfinite(scale.division.value))
    throw std::invalid_argument("calibrate: the division must be positive");
  const auto& stated = scale.relative_expanded_uncertainty;
  if (stated && !(*stated >= 0.0 && std::isfinite(*stated)))
    throw std::invalid_argument("calibrate: the uncertainty of the scale must not be negative");
  for (const Ruling& ruling : reading.rulings)
    if (!(ruling.pitch_px > 0.0) || ruling.graduations.size() < 2)
      throw std::invalid_argument("calibrate: a ruling needs a positive pitch and two graduations");
}

CalibratedAxis calibrated_axis(const Ruling& ruling, Micrometres division) {
  const MicrometresPerPixel factor = division / Pixels{ruling.pitch_px};
  CalibratedAxis axis;
  axis.um_per_pixel = factor.value;
  axis.fit_uncertainty = factor.value * ruling.pitch_uncertainty_px / ruling.pitch_px;
  axis.residual_rms_um = (factor * Pixels{ruling.residual_rms_px}).value;
  axis.residual_max_um = (factor * Pixels{ruling.residual_max_px}).value;
  axis.nonlinearity_max_um = (factor * Pixels{ruling.nonlinearity_max_px}).value;
  return axis;
}

// Both ends of a length across the span may be displaced by the largest departure, towards or away from each
// other, so the mean factor between them is known within +-2 departures a span.
double field_uncertainty(const Ruling& ruling, const CalibratedAxis& axis) {
  return axis.um_per_pixel * rectangular(2.0 * ruling.nonlinearity_max_px / span_px(ruling));
}

// The fit of the mean of the axes, each fitted on its own (independent).
BudgetLine fit_line(const Reading& reading, const std::vector<CalibratedAxis>& axes) {
  const double share = 1.0 / static_cast<double>(axes.size());
  double variance = 0.0, spread = 0.0;
  for (std::size_t i = 0; i < axes.size(); ++i) {
    const double part = std::pow(share * axes[i].fit_uncertainty, 2);
    variance += part;
    spread += part * part / reading.rulings[i].degrees_of_freedom;
  }
  if (variance == 0.0) return {"fit", 0.0, reading.rulings.front().degrees_of_freedom};
  return {"fit", std::sqrt(variance), variance * variance / spread};
}

// The optics bend both axes alike, so their parts are added, not their squares.
BudgetLine field_line(const Reading& reading, const std::vector<CalibratedAxis>& axes) {
  double sum = 0.0;
  for (std::size_t i = 0; i < axes.size(); ++i) sum += field_uncertainty(reading.rulings[i], axes[i]);
  return {"field", sum / static_cast<double>(axes.size()), kInfinity};
}

// One factor for every direction lies between the axes' own.
BudgetLine difference_line(const std::vector<CalibratedAxis>& axes) {
  const auto [least, most] = std::minmax_element(
      axes.begin(), axes.end(), [](const auto& a, const auto& b) { return a.um_per_pixel < b.um_per_pixel; });
  return {"x-y difference", rectangular(0.5 * (most->um_per_pixel - least->um_per_pixel)), kInfinity};
}

BudgetLine reference_line(const ReferenceScale& scale, double factor) {
  const auto& stated = scale.relative_expanded_uncertainty;
  return {"reference scale", stated ? factor * *stated / 2.0 : 0.0, kInfinity, stated.has_value()};
}

double combined_uncertainty(const std::vector<BudgetLine>& budget) {
  double variance = 0.0;
  for (const BudgetLine& line : budget) variance += line.contribution * line.contribution;
  return std::sqrt(variance);
}

// Welch-Satterthwaite (JCGM 100, G.4.1).
double effective_degrees_of_freedom(const std::vector<BudgetLine>& budget) {
  double spread = 0.0;
  for (const BudgetLine& line : budget) spread += std::pow(line.contribution, 4) / line.degrees_of_freedom;
  return spread > 0.0 ? std::pow(combined_uncertainty(budget), 4) / spread : kInfinity;
}

std::string percent(double share) {
  char text[32];
  // Tenths of a per mille are as fine as anybody acts upon. The decimal point may follow the locale of the
  // host program, so the digits are put together from integers.
  const long hundredths = std::lround(share * 1e4);
  std::snprintf(text, sizeof text, "%ld.%02ld %%", hundredths / 100, hundredths % 100);
  return text;
}

std::vector<Warning> warnings_of(const Reading& reading, const Calibration& result) {
  std::vector<Warning> warnings;
  const auto& axes = result.axes;
  if (axes.size() > 1) {
    const double difference = std::abs(axes[0].um_per_pixel - axes[1].um_per_pixel) / result.um_per_pixel.value;
    const double noise = std::hypot(axes[0].fit_uncertainty, axes[1].fit_uncertainty) / result.um_per_pixel.value;
    if (difference > std::max(kAxesAgree, 3.0 * noise))
      warnings.push_back({"axes-differ", "the two directions differ by " + percent(difference) +
                                             "; was the picture resized on export, or is the slide tilted?"});
  }
  const bool low = std::any_of(reading.rulings.begin(), reading.rulings.end(),
                               [](const Ruling& ruling) { return ruling.low_confidence; });
  if (low)
    warnings.push_back({"low-confidence", "only three or four graduations carry this factor; bring more into view"});
  if (!result.budget_complete)
    warnings.push_back(
        {"budget-incomplete",
         "the uncertainty of the reference scale is not stated, so it is not in the expanded uncertainty"});
  return warnings;
}

}  // namespace

Calibration calibrate(const Reading& reading, const ReferenceScale& scale) {
  require_sound(reading, scale);
  Calibration result;
  double sum = 0.0;
  for (const Ruling& ruling : reading.rulings) {
    result.axes.push_back(calibrated_axis(ruling, scale.division));
    sum += result.axes.back().um_per_pixel;
  }
  const double factor = sum / static_cast<double>(result.axes.size());

  const BudgetLine fit = fit_line(reading, result.axes);
  result.fit_uncertainty = fit.contribution;
  result.fit_degrees_of_freedom = fit.degrees_of_freedom;
  result.budget = {fit, field_line(reading, result.axes)};
  if (result.axes.size() > 1) result.budget.push_back(difference_line(result.axes));
  result.budget.push_back(reference_line(scale, factor));
  result.budget_complete = scale.relative_expanded_uncertainty.has_value();

  const double coverage = coverage_factor(effective_degrees_of_freedom(result.budget));
  const double expanded = coverage * combined_uncertainty(result.budget);
  result.um_per_pixel = {factor, expanded, coverage};
  result.pixels_per_um = {1.0 / factor, expanded / (factor * factor), coverage};
  result.warnings = warnings_of(reading, result);
  return result;
}

}  // namespace scale
