#include "finite.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <vector>

namespace fuzz {
namespace {

bool all_finite(std::initializer_list<double> values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

bool all_finite(const std::vector<double>& values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

bool is_whole(const scale::Failure& failure) {
  return !failure.stage.empty() && !failure.code.empty() && !failure.message.empty();
}

template <class Line>
bool ends_finite(const Line& line) {
  return all_finite({line.x1_px, line.y1_px, line.x2_px, line.y2_px});
}

std::string wrong_in_graduations(const scale::Ruling& ruling) {
  for (const scale::Graduation& g : ruling.graduations) {
    if (!all_finite({g.position_px, g.uncertainty_px, g.residual_px}) || !ends_finite(g)) return "a graduation";
    if (g.uncertainty_px < 0.0) return "a graduation's uncertainty, which is negative";
  }
  for (const scale::RejectedLine& line : ruling.rejected)
    if (!ends_finite(line)) return "a rejected line";
  return {};
}

std::string wrong_in_ruling(const scale::Ruling& r) {
  if (!all_finite({r.direction.value, r.direction_uncertainty, r.origin_px, r.pitch_px, r.pitch_uncertainty_px}))
    return "direction, origin or pitch";
  if (!all_finite({r.degrees_of_freedom, r.residual_rms_px, r.residual_max_px, r.false_alarm})) return "the fit";
  if (!all_finite({r.nonlinearity_max_px, r.nonlinearity_p_value}) || !all_finite(r.nonlinearity))
    return "the non-linearity";
  if (!all_finite({r.line_width_px, r.edge_blur_px})) return "line width or edge blur";
  for (const auto* list : {&r.profile_offset_px, &r.profile_value})
    if (!all_finite(*list)) return "the profile";
  if (!(r.pitch_px > 0.0) || !(r.pitch_uncertainty_px > 0.0)) return "pitch or its uncertainty, which is not positive";
  return wrong_in_graduations(r);
}

std::string wrong_in_calibration(const scale::Reading& reading) {
  const scale::Calibration c = scale::calibrate(reading, {scale::Micrometres{10.0}, {}});
  for (const scale::CalibrationFactor& factor : {c.um_per_pixel, c.pixels_per_um}) {
    if (!all_finite({factor.value, factor.expanded_uncertainty, factor.coverage_factor})) return "the factor";
    if (!(factor.value > 0.0) || !(factor.expanded_uncertainty > 0.0)) return "the factor, which is not positive";
  }
  return std::isfinite(c.fit_uncertainty) ? "" : "the fit's uncertainty";
}

}  // namespace

std::string what_is_wrong(const scale::Reading& reading) {
  if (reading.rulings.empty() != reading.failure.has_value()) return "rulings and failure, which exclude each other";
  if (reading.failure && !is_whole(*reading.failure)) return "the failure, which leaves something unsaid";
  if (!all_finite({reading.noise, reading.saturated_share}) || !all_finite(reading.directions_tried_deg))
    return "noise, saturation or directions";
  for (const scale::RejectedLine& line : reading.lines_seen)
    if (!ends_finite(line)) return "a line seen";
  for (const scale::Ruling& ruling : reading.rulings)
    if (const std::string wrong = wrong_in_ruling(ruling); !wrong.empty()) return wrong;
  return reading.rulings.empty() ? std::string() : wrong_in_calibration(reading);
}

}  // namespace fuzz
