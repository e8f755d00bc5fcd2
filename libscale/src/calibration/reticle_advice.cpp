#include "calibration/reticle_advice.h"

#include <algorithm>
#include <cmath>

namespace scale::calibration {
namespace {

constexpr double kWorthwhile = 0.95;
// A line this near to one that was read is that finding again.
constexpr double kTooNear = 0.05;

int length_of(int stated, double furthest) {
  return stated > 0 ? stated : 10 * static_cast<int>(std::ceil(furthest / 10.0));
}

// The last series, where the slide lies now.
struct Present {
  double offset = 0.0, weight = 0.0, centre = 0.0;
};

Present present_of(std::span<const ReadingPoint> points, const ReticleFit& fit) {
  Present present{fit.offsets.back(), 0.0, 0.0};
  for (const ReadingPoint& point : points) {
    if (point.series != points.back().series) continue;
    const double weight = 1.0 / std::pow(point.uncertainty(fit.slope), 2);
    present.weight += weight;
    present.centre += weight * point.x;
  }
  present.centre /= present.weight;
  return present;
}

// One more point adds w W / (w + W) (x - centroid)^2 to the information on the slope.
double improved(const Present& present, const ReticleFit& fit, double x, double uncertainty) {
  const double weight = 1.0 / (uncertainty * uncertainty);
  const double gain = weight * present.weight / (weight + present.weight) * std::pow(x - present.centre, 2);
  return 1.0 / std::sqrt(1.0 / (fit.slope_uncertainty * fit.slope_uncertainty) + gain);
}

}  // namespace

std::optional<FurtherReading> further_reading(std::span<const ReadingPoint> points, const ReticleFit& fit,
                                              const ReadingScales& scales, std::span<const EyeReading> read) {
  double furthest_line = 0.0, furthest_graduation = 0.0;
  for (const EyeReading& reading : read) {
    furthest_line = std::max(furthest_line, reading.reticle);
    furthest_graduation = std::max(furthest_graduation, reading.micrometer);
  }
  const double division = scales.scale.division.value;
  const int lines = length_of(scales.conditions.reticle_divisions, furthest_line);
  const int graduations = length_of(scales.scale.divisions, furthest_graduation);
  const double limits = scales.coincidence_um(fit.slope);
  const Present present = present_of(points, fit);
  const auto read_already = [&](int line) {
    return std::any_of(points.begin(), points.end(), [&](const ReadingPoint& point) {
      return point.series == points.back().series && std::abs(point.x - line) <= std::max(1.0, kTooNear * lines);
    });
  };
  std::optional<FurtherReading> best;
  for (int line = 0; line <= lines; ++line) {
    const double at_um = present.offset + fit.slope * line;
    const int graduation = static_cast<int>(std::lround(at_um / division));
    if (read_already(line) || graduation < 0 || graduation > graduations) continue;
    const bool coincides = std::abs(at_um - scales.position_um(graduation)) <= limits;
    if (!coincides && line != 0 && line != lines) continue;
    const double estimate = coincides ? 0.0 : standard_uncertainty_within(scales.conditions.estimate) * division;
    const double parallax = fit.slope * standard_uncertainty_within(scales.conditions.parallax);
    const double after =
        improved(present, fit, line, std::hypot(standard_uncertainty_within(limits), estimate, parallax));
    if (!best || after < best->improved_uncertainty) best = FurtherReading{line, graduation, after, coincides};
  }
  return best && best->improved_uncertainty < kWorthwhile * fit.slope_uncertainty ? best : std::nullopt;
}

}  // namespace scale::calibration
