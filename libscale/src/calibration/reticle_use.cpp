// A calibrated reticle in use: lengths, and zoom settings between calibrated ones.
#include <scale/reticle.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace scale {

ReticleLength reticle_length(double divisions, const CalibrationFactor& um_per_division, double estimate) {
  // Both ends are read, each within its limits.
  const double reading = std::sqrt(2.0) * standard_uncertainty_within(estimate) * um_per_division.value;
  const double factor = divisions * um_per_division.expanded_uncertainty / um_per_division.coverage_factor;
  const double k = um_per_division.coverage_factor;
  return {divisions * um_per_division.value, k * std::hypot(reading, factor), k};
}

std::optional<InterpolatedZoom> interpolate_zoom(std::vector<ZoomSetting> settings, double zoom, double setting) {
  for (const ZoomSetting& known : settings)
    if (!(known.zoom > 0.0) || !(known.um_per_division.value > 0.0))
      throw std::invalid_argument("interpolate_zoom: settings and factors must be positive");
  std::sort(settings.begin(), settings.end(),
            [](const ZoomSetting& a, const ZoomSetting& b) { return a.zoom < b.zoom; });
  const auto above = std::find_if(settings.begin(), settings.end(), [&](const auto& s) { return s.zoom > zoom; });
  if (above == settings.begin() || above == settings.end()) return std::nullopt;
  const ZoomSetting &lower = *(above - 1), &upper = *above;
  const double share = std::log(zoom / lower.zoom) / std::log(upper.zoom / lower.zoom);
  const double product_low = lower.um_per_division.value * lower.zoom;
  const double product_high = upper.um_per_division.value * upper.zoom;
  InterpolatedZoom result;
  result.lower = lower.zoom;
  result.upper = upper.zoom;
  result.um_per_division.value = (product_low + share * (product_high - product_low)) / zoom;
  result.added = std::hypot(standard_uncertainty_within(std::abs(std::log(product_high / product_low))),
                            standard_uncertainty_within(setting));
  // The neighbours' own uncertainties share the reference scale: the larger one holds.
  const auto relative = [](const CalibrationFactor& f) { return f.expanded_uncertainty / f.coverage_factor / f.value; };
  const double own = std::max(relative(lower.um_per_division), relative(upper.um_per_division));
  result.um_per_division.coverage_factor =
      std::max(lower.um_per_division.coverage_factor, upper.um_per_division.coverage_factor);
  result.um_per_division.expanded_uncertainty =
      result.um_per_division.coverage_factor * std::hypot(own, result.added) * result.um_per_division.value;
  return result;
}

}  // namespace scale
