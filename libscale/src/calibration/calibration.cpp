#include <scale/calibration.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "calibration/budget.h"
#include "calibration/certified.h"

namespace scale {
namespace {

using calibration::percent;

// Axes that differ by less are not worth a word: a good instrument shows about 0.1 % (an example of NIST for an
// electron microscope, 9.875 and 9.885 nm a pixel).
constexpr double kAxesAgree = 2e-3;

void require_sound(const Reading& reading, const ReferenceScale& scale) {
  if (reading.rulings.empty()) throw std::invalid_argument("calibrate: the reading holds no ruling");
  if (!(scale.division.value > 0.0) || !std::isfinite(scale.division.value))
    throw std::invalid_argument("calibrate: the division must be positive");
  const auto& stated = scale.uncertainty;
  const bool sound =
      !stated || (stated->constant.value >= 0.0 && std::isfinite(stated->constant.value) && stated->per_length >= 0.0 &&
                  std::isfinite(stated->per_length) && stated->coverage_factor > 0.0);
  if (!sound) throw std::invalid_argument("calibrate: the uncertainty of the scale must not be negative");
  for (const Ruling& ruling : reading.rulings)
    if (!(ruling.pitch_px > 0.0) || ruling.graduations.size() < 2)
      throw std::invalid_argument("calibrate: a ruling needs a positive pitch and two graduations");
}

// The fit of the mean of the axes, each fitted on its own (independent).
BudgetLine fit_line(const std::vector<CalibratedAxis>& axes, double factor) {
  const double share = 1.0 / static_cast<double>(axes.size());
  double variance = 0.0, spread = 0.0;
  for (const CalibratedAxis& axis : axes) {
    const double part = std::pow(share * axis.fit_uncertainty, 2);
    variance += part;
    spread += part * part / axis.fit_degrees_of_freedom;
  }
  const double freedom = variance == 0.0 ? axes.front().fit_degrees_of_freedom : variance * variance / spread;
  return calibration::relative_line("fit", std::sqrt(variance) / factor, factor, Distribution::student_t, freedom,
                                    "scatter of the graduations about their line");
}

// The optics bend both axes alike, so their parts are added, not their squares.
BudgetLine field_line(const std::vector<CalibratedAxis>& axes, double factor) {
  double sum = 0.0;
  for (const CalibratedAxis& axis : axes) sum += axis.field_limits;
  return calibration::limits_line("field", sum / static_cast<double>(axes.size()), factor,
                                  "largest departure of the local scale over the span");
}

// One factor for every direction lies between the axes' own.
BudgetLine difference_line(const std::vector<CalibratedAxis>& axes, double factor) {
  const auto [least, most] = std::minmax_element(
      axes.begin(), axes.end(), [](const auto& a, const auto& b) { return a.um_per_pixel < b.um_per_pixel; });
  return calibration::limits_line("x-y difference", 0.5 * (most->um_per_pixel - least->um_per_pixel) / factor, factor,
                                  "half the difference of the two directions");
}

// One scale lies under both axes, so its part is their mean, not their mean square.
BudgetLine reference_line(const Reading& reading, const std::vector<CalibratedAxis>& axes, const ReferenceScale& scale,
                          double factor) {
  if (!scale.uncertainty) return calibration::unstated_line("reference scale", "its uncertainty is not stated");
  double sum = 0.0;
  for (std::size_t i = 0; i < axes.size(); ++i)
    sum += calibration::certificate_uncertainty(reading.rulings[i], axes[i], scale);
  return calibration::relative_line("reference scale", sum / static_cast<double>(axes.size()), factor,
                                    Distribution::normal, calibration::kInfinity, "as stated, over the span in view");
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

Calibration calibrate(const Reading& reading, const ReferenceScale& scale, const ShotHints& hints) {
  require_sound(reading, scale);
  Calibration result;
  double sum = 0.0, numbering_limits = 0.0;
  for (const Ruling& ruling : reading.rulings) {
    result.axes.push_back(calibration::calibrate_axis(ruling, reading.width, reading.height, scale, hints));
    sum += result.axes.back().um_per_pixel;
    numbering_limits = std::max(numbering_limits, result.axes.back().numbering_limits);
  }
  const double factor = sum / static_cast<double>(result.axes.size());

  const BudgetLine fit = fit_line(result.axes, factor);
  result.fit_uncertainty = fit.contribution;
  result.fit_degrees_of_freedom = fit.input.degrees_of_freedom;
  result.budget = {fit, field_line(result.axes, factor)};
  if (result.axes.size() > 1) result.budget.push_back(difference_line(result.axes, factor));
  if (numbering_limits > 0.0)
    result.budget.push_back(calibration::limits_line("numbering", numbering_limits, factor,
                                                     "the certificate's mean scale stands for the part in view"));
  result.budget.push_back(reference_line(reading, result.axes, scale, factor));
  result.budget_complete = calibration::is_complete(result.budget);

  const CombinedUncertainty combined = calibration::sum_of(result.budget);
  result.um_per_pixel = calibration::factor_of(factor, combined);
  result.pixels_per_um = calibration::reciprocal_of(factor, combined);
  result.warnings = warnings_of(reading, result);
  return result;
}

}  // namespace scale
