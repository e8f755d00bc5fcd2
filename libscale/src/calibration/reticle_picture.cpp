#include <scale/reticle_picture.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <scale/units.h>

#include "calibration/budget.h"
#include "calibration/certified.h"
#include "calibration/components.h"
#include "calibration/local_ratio.h"
#include "calibration/which_reticle.h"

namespace scale {
namespace {

using namespace calibration;

constexpr double kCoincides = 0.05;  // micrometer divisions: what an eye takes for one line (from memory)
constexpr double kEndToEnd = 0.03;   // pixels, standard (judgement, as the engine's for a shape that is not pinned)
constexpr double kEndToEndShared = 0.15;  // the same where lines of both scales lie among each other (judgement)

// Of a pitch, relative, standard: the scatter of the lines, and what the picture's raster, light and focus leave
// between the first line and the last. What a mean pitch means where it changes does not enter: the ratio is taken
// locally.
double relative_scatter(const Ruling& ruling, double end_to_end) {
  const auto n = static_cast<double>(ruling.graduations.size());
  const double span = ruling.graduations.back().position_px - ruling.graduations.front().position_px;
  return std::hypot(ruling.residual_rms_px * std::sqrt(12.0 / n), end_to_end) / span;
}

BudgetLine tilt_line(const LocalRatio& ratio, double factor) {
  return relative_line("camera tilt", ratio.moved_uncertainty, factor, Distribution::normal, kInfinity,
                       "the lines fan out by it; corrected by " + percent(ratio.moved));
}

// A ruling's lines from the left or upper end on, whichever way its index runs.
struct FromTheLeft {
  std::vector<Graduation> lines;  // index from 0
  bool end_seen = false;
};

FromTheLeft from_the_left(const Ruling& ruling, const EndsSeen& ends) {
  FromTheLeft result{ruling.graduations, ends.first};
  const Place first = middle_of(result.lines.front()), last = middle_of(result.lines.back());
  const bool backwards = std::abs(last.x - first.x) >= std::abs(last.y - first.y) ? last.x < first.x : last.y < first.y;
  if (backwards) std::reverse(result.lines.begin(), result.lines.end()), result.end_seen = ends.last;
  const int origin = result.lines.front().index;
  for (Graduation& line : result.lines) line.index = std::abs(line.index - origin);
  return result;
}

// Where a point lies on the micrometer, divisions from its first line: by the graduation next to it.
double place_on(const Ruling& micrometer, const std::vector<Graduation>& its, const Place& at) {
  const double c = std::cos(micrometer.direction.value), s = std::sin(micrometer.direction.value);
  const auto t = [&](const Graduation& line) {
    const Place p = middle_of(line);
    return p.x * c + p.y * s;
  };
  const double own = at.x * c + at.y * s, way = t(its.back()) > t(its.front()) ? 1.0 : -1.0;
  const auto nearest = std::min_element(its.begin(), its.end(), [&](const Graduation& a, const Graduation& b) {
    return std::abs(t(a) - own) < std::abs(t(b) - own);
  });
  return nearest->index + way * (own - t(*nearest)) / micrometer.pitch_px;
}

// Counted from zero lines that are seen and lie together. `moved` brings both scales to one place.
std::vector<Coincidence> coincidences_of(const TwoRulings& two, const ReticlePicture& found, double moved) {
  const Ruling &reticle = two.reading.rulings[found.reticle], &micrometer = two.reading.rulings[found.micrometer];
  const FromTheLeft own = from_the_left(reticle, two.ends[found.reticle]),
                    its = from_the_left(micrometer, two.ends[found.micrometer]);
  std::vector<Coincidence> list;
  if (!own.end_seen || !its.end_seen) return list;
  if (share_ground(reticle, micrometer) &&
      !(clear_end(own.lines, own.lines.front()) && clear_end(its.lines, its.lines.front())))
    return list;
  const double zero = place_on(micrometer, its.lines, middle_of(own.lines.front()));
  if (std::abs(zero) > kCoincides) return list;
  for (const Graduation& line : own.lines) {
    const double place = zero + (place_on(micrometer, its.lines, middle_of(line)) - zero) * (1.0 + moved);
    const double nearest = std::round(place);
    if (nearest < 0.0 || nearest > its.lines.back().index || std::abs(place - nearest) > kCoincides) continue;
    list.push_back({line.index, static_cast<int>(nearest), place - nearest});
  }
  return list;
}

// What the micrometer's certificate leaves, of the reticle's division now.
BudgetLine reference_line(const Calibration& micrometer, double factor) {
  for (const BudgetLine& line : micrometer.budget)
    if (line.input.name == "reference scale" && line.stated)
      return relative_line("reference scale", line.contribution / micrometer.um_per_pixel.value, factor,
                           Distribution::normal, kInfinity, line.basis);
  return unstated_line("reference scale", "its uncertainty is not stated");
}

// The eyepiece beyond what the scales cover, where the laboratory states more than the picture shows.
BudgetLine field_line(const LocalRatio& ratio, const std::optional<SetupConditions>& conditions, double factor) {
  if (conditions && conditions->stated.field && *conditions->stated.field > ratio.spread)
    return limits_line("field", *conditions->stated.field, factor, "as stated");
  return limits_line("field", ratio.spread, factor, "largest departure of the local ratio from its mean");
}

}  // namespace

tl::expected<ReticlePicture, Failure> calibrate_reticle(const TwoRulings& two, const ReferenceScale& scale,
                                                        const ReticleInView& reticle, const ShotHints& hints,
                                                        const std::optional<SetupConditions>& conditions) {
  if (two.reading.rulings.size() != 2) throw std::invalid_argument("calibrate_reticle: two rulings are needed");
  const auto which = reticle_of(two, scale, reticle);
  if (!which) return tl::unexpected<Failure>(which.error());
  ReticlePicture result;
  result.reticle = *which;
  result.micrometer = 1 - result.reticle;
  const Ruling &own = two.reading.rulings[result.reticle], &other = two.reading.rulings[result.micrometer];
  Reading alone = two.reading;
  alone.rulings = {other};
  result.micrometer_calibration = calibrate(alone, scale, hints);
  const Calibration& micrometer = result.micrometer_calibration;
  const LocalRatio ratio = ratio_of(two.reading, own, other);
  const double factor = micrometer.um_per_pixel.value * other.pitch_px * ratio.mean;
  const double end_to_end = share_ground(own, other) ? kEndToEndShared : kEndToEnd;
  const double u_own = relative_scatter(own, end_to_end), u_other = relative_scatter(other, end_to_end);
  const double fit = std::hypot(u_own, u_other);
  const double freedom = std::pow(fit, 4) / (std::pow(u_own, 4) / own.degrees_of_freedom +
                                             std::pow(u_other, 4) / other.degrees_of_freedom);
  result.fit_uncertainty = factor * fit;
  result.fit_degrees_of_freedom = freedom;
  result.budget = {
      relative_line("fit", fit, factor, Distribution::student_t, freedom, "scatter of the lines of both scales"),
      tilt_line(ratio, factor), reference_line(micrometer, factor)};
  BudgetLine field = field_line(ratio, conditions, factor);
  const double span_um = span_of(other) * scale.division.value;
  if (!conditions)
    result.budget.insert(result.budget.begin() + 1, std::move(field));
  else
    for (BudgetLine& line : eyepiece_lines(scale, *conditions, span_um, std::move(field), 1, factor))
      result.budget.push_back(std::move(line));
  const CombinedUncertainty combined = sum_of(result.budget);
  const double corrected = conditions ? room_factor(scale, *conditions, span_um) : 1.0;
  result.um_per_division = factor_of(factor * corrected, combined);
  result.degrees_of_freedom = combined.degrees_of_freedom;
  result.budget_complete = is_complete(result.budget);
  result.reticle_axis = nominal_axis(own, factor);
  result.coincidences = coincidences_of(two, result, ratio.moved);
  return result;
}

}  // namespace scale
