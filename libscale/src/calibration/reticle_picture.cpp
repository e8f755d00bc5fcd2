#include <scale/reticle_picture.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <scale/units.h>

#include "calibration/budget.h"
#include "calibration/certified.h"
#include "calibration/components.h"

namespace scale {
namespace {

using namespace calibration;

constexpr double kCoincides = 0.05;  // micrometer divisions: what an eye takes for one line (from memory)
constexpr int kPlaces = 9;           // at which the ratio is taken
constexpr int kMiscount = 3;         // divisions: a scale seen whole may have lost so many lines at its ends
constexpr double kEndToEnd = 0.03;   // pixels, standard (judgement, as the engine's for a shape that is not pinned)
constexpr double kEndToEndShared = 0.15;  // the same where lines of both scales lie among each other (judgement)
constexpr double kUneven = 0.1;  // limits (+-): share of the growth by which it may change unevenly (judgement)

int span_of(const Ruling& ruling) { return ruling.graduations.back().index - ruling.graduations.front().index; }

struct Place {
  double x = 0.0, y = 0.0;
};

Place middle_of(const Graduation& line) { return {0.5 * (line.x1_px + line.x2_px), 0.5 * (line.y1_px + line.y2_px)}; }

Place middle_of(const Ruling& ruling) {
  Place sum;
  const double share = 1.0 / static_cast<double>(ruling.graduations.size());
  for (const Graduation& line : ruling.graduations) {
    const Place middle = middle_of(line);
    sum.x += share * middle.x, sum.y += share * middle.y;
  }
  return sum;
}

// By what a person said: the first ruling's place among the two in that order.
std::size_t as_said(const Reading& two, ReticleIs is) {
  const Ruling &a = two.rulings[0], &b = two.rulings[1];
  if (is == ReticleIs::finer) return a.pitch_px <= b.pitch_px ? 0 : 1;
  if (is == ReticleIs::coarser) return a.pitch_px <= b.pitch_px ? 1 : 0;
  const bool first_above = middle_of(a).y < middle_of(b).y;
  return (is == ReticleIs::upper) == first_above ? 0 : 1;
}

// Is `own` the reticle, for all that counting shows? The other one is longer than a reticle, or both are seen from end
// to end and their numbers tell; or it is longer than the micrometer is said to be.
bool counted_as_reticle(const TwoRulings& two, std::size_t own, const ReticleInView& reticle,
                        const ReferenceScale& scale, bool among_each_other) {
  // Where lines of both lie among each other places beyond an end may be counted: lines that were measured count then,
  // with room.
  const int room = among_each_other ? kMiscount : 0;
  const auto whole = [&](std::size_t i) { return !among_each_other && two.ends[i].first && two.ends[i].last; };
  const int it = span_of(two.reading.rulings[own]), other = span_of(two.reading.rulings[1 - own]);
  if (it > reticle.divisions + room || (whole(own) && reticle.divisions - it > kMiscount)) return false;
  const int seen = static_cast<int>(two.reading.rulings[1 - own].graduations.size()) - 1;
  if ((among_each_other ? seen : other) > reticle.divisions + room) return true;
  if (scale.divisions > 0 && scale.divisions < reticle.divisions && it > scale.divisions + room) return true;
  return whole(own) && whole(1 - own) && it == reticle.divisions && std::abs(other - reticle.divisions) > kMiscount;
}

Failure cannot_tell(const Reading& two, const ReticleInView& reticle) {
  return {"reticle", "which-reticle",
          "two scales of " + std::to_string(span_of(two.rulings[0])) + " and " +
              std::to_string(span_of(two.rulings[1])) +
              " divisions in view, and it cannot be told which is the reticle of " + std::to_string(reticle.divisions) +
              "; say so with --reticle-is finer, coarser, upper or lower"};
}

// The departure of the smooth scale from its straight line, pixels, and its slope per division, at z.
double departure_slope(const Ruling& ruling, double z) {
  double slope = 0.0, power = 1.0;
  for (std::size_t k = 1; k < ruling.nonlinearity.size(); ++k, power *= z)
    slope += static_cast<double>(k) * ruling.nonlinearity[k] * power;
  return slope * 2.0 / span_of(ruling);
}

double departure(const Ruling& ruling, double z) {
  double value = 0.0;
  for (std::size_t k = ruling.nonlinearity.size(); k-- > 0;) value = value * z + ruling.nonlinearity[k];
  return value;
}

// Position along the scale, -1 at the first line seen and 1 at the last.
double z_at(const Ruling& ruling, const Place& at) {
  const double t = at.x * std::cos(ruling.direction.value) + at.y * std::sin(ruling.direction.value);
  const double index = (t - ruling.origin_px) / ruling.pitch_px;
  return 2.0 * (index - ruling.graduations.front().index) / span_of(ruling) - 1.0;
}

double local_pitch(const Ruling& ruling, double z) {
  const double straight = ruling.pitch_px - (departure(ruling, 1.0) - departure(ruling, -1.0)) / span_of(ruling);
  return straight + departure_slope(ruling, z);
}

struct Ratio {
  double mean = 0.0, spread = 0.0;              // spread: largest departure, relative
  double moved = 0.0, moved_uncertainty = 0.0;  // by what it was corrected for tilt, relative; standard
};

double across(const Ruling& ruling, const Place& at) {
  return at.y * std::cos(ruling.direction.value) - at.x * std::sin(ruling.direction.value);
}

// The pitch at a place beside the ruling's lines, and by how much that is more than on them, relative.
struct PitchThere {
  double pitch, moved;
};

PitchThere pitch_at(const Ruling& ruling, const Place& at) {
  const double moved = ruling.pitch_growth_per_px * (across(ruling, at) - across(ruling, middle_of(ruling)));
  return {local_pitch(ruling, std::clamp(z_at(ruling, at), -1.0, 1.0)) * (1.0 + moved), moved};
}

// Places half-way from the reticle's lines to the micrometer's that both scales cover; else the middle between both.
std::vector<Place> common_places(const Ruling& reticle, const Ruling& micrometer) {
  const double c = std::cos(reticle.direction.value), s = std::sin(reticle.direction.value);
  const Place own = middle_of(reticle), other = middle_of(micrometer);
  const double half = 0.5 * (across(reticle, other) - across(reticle, own));
  std::vector<Place> places;
  for (int i = 0; i < kPlaces; ++i) {
    const auto at = static_cast<std::size_t>(
        std::lround(static_cast<double>(reticle.graduations.size() - 1) * i / (kPlaces - 1.0)));
    const Place line = middle_of(reticle.graduations[at]), place{line.x - half * s, line.y + half * c};
    if (std::abs(z_at(micrometer, place)) <= 1.05) places.push_back(place);
  }
  if (places.empty()) places.push_back({0.5 * (own.x + other.x), 0.5 * (own.y + other.y)});
  return places;
}

Ratio ratio_of(const Reading& reading, const Ruling& reticle, const Ruling& micrometer) {
  Ratio ratio;
  std::vector<double> ratios;
  const std::vector<Place> places = common_places(reticle, micrometer);
  const double share = 1.0 / static_cast<double>(places.size());
  double size = 0.0, from_middle = 0.0;
  for (const Place& place : places) {
    const PitchThere own = pitch_at(reticle, place), other = pitch_at(micrometer, place);
    ratios.push_back(own.pitch / other.pitch);
    ratio.mean += share * ratios.back();
    ratio.moved += share * (own.moved - other.moved);
    size += share * (std::abs(own.moved) + std::abs(other.moved));
    from_middle += share * std::hypot(place.x - 0.5 * reading.width, place.y - 0.5 * reading.height);
  }
  for (const double r : ratios) ratio.spread = std::max(ratio.spread, std::abs(r / ratio.mean - 1.0));
  const double apart = 0.5 * std::abs(across(reticle, middle_of(micrometer)) - across(reticle, middle_of(reticle)));
  const double u = apart * std::hypot(reticle.pitch_growth_uncertainty, micrometer.pitch_growth_uncertainty);
  const double lean = std::remainder(reticle.direction.value - micrometer.direction.value, kPi);
  const double way = std::cos(reticle.direction.value - micrometer.direction.value) < 0.0 ? -1.0 : 1.0;
  const double one = reticle.pitch_growth_per_px, two = micrometer.pitch_growth_per_px;
  // A tilted camera shows lengths across its tilt and along it in different proportion: at an angle that counts.
  const double angle = std::abs(std::sin(lean));
  const double limits = std::hypot(kUneven * size, (one - way * two) * apart * std::cos(lean)) +
                        angle * (std::abs(one) + std::abs(two)) * from_middle;
  ratio.moved_uncertainty = std::hypot(u, limits / std::sqrt(3.0));
  return ratio;
}

// Of a pitch, relative, standard: the scatter of the lines, and what the picture's raster, light and focus leave
// between the first line and the last. What a mean pitch means where it changes does not enter: the ratio is taken
// locally.
double relative_scatter(const Ruling& ruling, double end_to_end) {
  const double n = static_cast<double>(ruling.graduations.size());
  const double span = ruling.graduations.back().position_px - ruling.graduations.front().position_px;
  return std::hypot(ruling.residual_rms_px * std::sqrt(12.0 / n), end_to_end) / span;
}

// Do lines of one scale lie among those of the other?
bool share_ground(const Ruling& a, const Ruling& b) {
  const auto length = [](const Ruling& ruling) {
    double sum = 0.0;
    for (const Graduation& line : ruling.graduations)
      sum += std::hypot(line.x2_px - line.x1_px, line.y2_px - line.y1_px);
    return sum / static_cast<double>(ruling.graduations.size());
  };
  const double apart = std::min(std::abs(across(a, middle_of(b)) - across(a, middle_of(a))),
                                std::abs(across(b, middle_of(b)) - across(b, middle_of(a))));
  return apart < 0.5 * (length(a) + length(b));
}

BudgetLine tilt_line(const Ratio& ratio, double factor) {
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
BudgetLine field_line(const Ratio& ratio, const std::optional<SetupConditions>& conditions, double factor) {
  if (conditions && conditions->stated.field && *conditions->stated.field > ratio.spread)
    return limits_line("field", *conditions->stated.field, factor, "as stated");
  return limits_line("field", ratio.spread, factor, "largest departure of the local ratio from its mean");
}

tl::expected<std::size_t, Failure> reticle_of(const TwoRulings& two, const ReferenceScale& scale,
                                              const ReticleInView& reticle) {
  if (reticle.is != ReticleIs::unknown) return as_said(two.reading, reticle.is);
  const bool among = share_ground(two.reading.rulings[0], two.reading.rulings[1]);
  const bool first = counted_as_reticle(two, 0, reticle, scale, among),
             second = counted_as_reticle(two, 1, reticle, scale, among);
  if (first == second) return tl::unexpected<Failure>(cannot_tell(two.reading, reticle));
  return first ? 0 : 1;
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
  const Ratio ratio = ratio_of(two.reading, own, other);
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
