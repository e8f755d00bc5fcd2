#include <scale/reticle_picture.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "calibration/budget.h"

namespace scale {
namespace {

using namespace calibration;

constexpr double kCoincides = 0.05;  // micrometer divisions: what an eye takes for one line (from memory)
constexpr double kRoomBeyond = 1.5;  // divisions that must lie in the picture beyond an end that is seen
constexpr int kPlaces = 9;           // at which the ratio is taken
constexpr std::size_t kMostListed = 200;

int span_of(const Ruling& ruling) { return ruling.graduations.back().index - ruling.graduations.front().index; }

struct Place {
  double x = 0.0, y = 0.0;
};

Place middle_of(const Graduation& line) { return {0.5 * (line.x1_px + line.x2_px), 0.5 * (line.y1_px + line.y2_px)}; }

// Do both ends of the scale lie in the picture? Beyond them there must be room for a line that is not there.
bool whole(const Ruling& ruling, const Reading& two, const ShotHints& hints) {
  const double c = std::cos(ruling.direction.value), s = std::sin(ruling.direction.value);
  const double room = kRoomBeyond * ruling.pitch_px;
  const auto inside = [&](const Graduation& end, double way) {
    const Place at = middle_of(end);
    const double x = at.x - hints.frame_x + way * room * c, y = at.y - hints.frame_y + way * room * s;
    return x >= 0.0 && y >= 0.0 && x <= two.width - 1.0 && y <= two.height - 1.0;
  };
  return inside(ruling.graduations.front(), -1.0) && inside(ruling.graduations.back(), 1.0);
}

double mean_y(const Ruling& ruling) {
  double sum = 0.0;
  for (const Graduation& line : ruling.graduations) sum += middle_of(line).y;
  return sum / static_cast<double>(ruling.graduations.size());
}

// By what a person said: the first ruling's place among the two in that order.
std::size_t as_said(const Reading& two, ReticleIs is) {
  const Ruling &a = two.rulings[0], &b = two.rulings[1];
  if (is == ReticleIs::finer) return a.pitch_px <= b.pitch_px ? 0 : 1;
  if (is == ReticleIs::coarser) return a.pitch_px <= b.pitch_px ? 1 : 0;
  const bool first_above = mean_y(a) < mean_y(b);
  return (is == ReticleIs::upper) == first_above ? 0 : 1;
}

// Is `own` the reticle, for all that counting shows?
bool counted_as_reticle(const Reading& two, std::size_t own, const ReticleInView& reticle, const ReferenceScale& scale,
                        const ShotHints& hints) {
  const Ruling &it = two.rulings[own], &other = two.rulings[1 - own];
  if (span_of(other) > reticle.divisions && span_of(it) <= reticle.divisions) return true;
  const bool other_whole = whole(other, two, hints);
  if (span_of(it) == reticle.divisions && whole(it, two, hints) && other_whole && span_of(other) != reticle.divisions)
    return true;
  return scale.divisions > 0 && scale.divisions != reticle.divisions &&
         (span_of(it) > scale.divisions || (other_whole && span_of(other) == scale.divisions));
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
  double mean = 0.0, spread = 0.0;  // spread: largest departure, relative
};

Ratio ratio_of(const Ruling& reticle, const Ruling& micrometer) {
  std::vector<double> ratios;
  for (int i = 0; i < kPlaces; ++i) {
    const auto at = static_cast<std::size_t>(
        std::lround(static_cast<double>(reticle.graduations.size() - 1) * i / (kPlaces - 1.0)));
    const Place place = middle_of(reticle.graduations[at]);
    const double other = z_at(micrometer, place);
    if (std::abs(other) <= 1.05)
      ratios.push_back(local_pitch(reticle, z_at(reticle, place)) / local_pitch(micrometer, other));
  }
  // Scales that cover different parts of the field: their means.
  if (ratios.empty()) ratios.push_back(reticle.pitch_px / micrometer.pitch_px);
  Ratio ratio;
  for (const double r : ratios) ratio.mean += r / static_cast<double>(ratios.size());
  for (const double r : ratios) ratio.spread = std::max(ratio.spread, std::abs(r / ratio.mean - 1.0));
  return ratio;
}

// Lines counted from the left or upper end, whichever way the fit's index runs.
std::vector<Graduation> from_the_left(const Ruling& ruling) {
  std::vector<Graduation> lines = ruling.graduations;
  const Place first = middle_of(lines.front()), last = middle_of(lines.back());
  const bool backwards = std::abs(last.x - first.x) >= std::abs(last.y - first.y) ? last.x < first.x : last.y < first.y;
  if (backwards) std::reverse(lines.begin(), lines.end());
  const int origin = lines.front().index;
  for (Graduation& line : lines) line.index = std::abs(line.index - origin);
  return lines;
}

// The micrometer's place, in divisions from its first line, that a line of the reticle lies on. Perpendicular to the
// micrometer's axis, as the eye compares line ends.
double place_on(const Ruling& micrometer, const std::vector<Graduation>& its, const Place& at) {
  const double c = std::cos(micrometer.direction.value), s = std::sin(micrometer.direction.value);
  const auto t = [&](const Place& p) { return p.x * c + p.y * s; };
  const double way = t(middle_of(its.back())) > t(middle_of(its.front())) ? 1.0 : -1.0;
  return way * (t(at) - t(middle_of(its.front()))) / micrometer.pitch_px;
}

std::vector<Coincidence> coincidences_of(const Ruling& reticle, const Ruling& micrometer) {
  const std::vector<Graduation> its = from_the_left(micrometer), own = from_the_left(reticle);
  std::vector<Coincidence> list;
  for (const Graduation& line : own) {
    const double place = place_on(micrometer, its, middle_of(line)), nearest = std::round(place);
    if (nearest < 0.0 || nearest > its.back().index || std::abs(place - nearest) > kCoincides) continue;
    list.push_back({line.index, static_cast<int>(nearest), place - nearest});
    if (list.size() == kMostListed) break;
  }
  const bool aligned = !list.empty() && list.front().reticle == 0 && list.front().micrometer == 0;
  return aligned ? list : std::vector<Coincidence>{};
}

double relative(const BudgetLine& line, double factor) { return line.contribution / factor; }

}  // namespace

tl::expected<ReticlePicture, Failure> calibrate_reticle(const Reading& two, const ReferenceScale& scale,
                                                        const ReticleInView& reticle, const ShotHints& hints) {
  if (two.rulings.size() != 2) throw std::invalid_argument("calibrate_reticle: two rulings are needed");
  ReticlePicture result;
  if (reticle.is != ReticleIs::unknown) {
    result.reticle = as_said(two, reticle.is);
  } else {
    const bool first = counted_as_reticle(two, 0, reticle, scale, hints);
    const bool second = counted_as_reticle(two, 1, reticle, scale, hints);
    if (first == second) return tl::unexpected<Failure>(cannot_tell(two, reticle));
    result.reticle = first ? 0 : 1;
  }
  result.micrometer = 1 - result.reticle;
  const Ruling &own = two.rulings[result.reticle], &other = two.rulings[result.micrometer];
  Reading alone = two;
  alone.rulings = {other};
  const Calibration micrometer = calibrate(alone, scale, hints);
  const Ratio ratio = ratio_of(own, other);
  const double factor = micrometer.um_per_pixel.value * other.pitch_px * ratio.mean;
  const double u_own = own.pitch_uncertainty_px / own.pitch_px,
               u_other = micrometer.fit_uncertainty / micrometer.um_per_pixel.value;
  const double fit = std::hypot(u_own, u_other);
  const double freedom = std::pow(fit, 4) / (std::pow(u_own, 4) / own.degrees_of_freedom +
                                             std::pow(u_other, 4) / micrometer.fit_degrees_of_freedom);
  result.fit_uncertainty = factor * fit;
  result.fit_degrees_of_freedom = freedom;
  result.budget = {relative_line("fit", fit, factor, Distribution::student_t, freedom, "both rulings"),
                   limits_line("field", ratio.spread, factor, "largest departure of the local ratio from its mean")};
  for (const BudgetLine& line : micrometer.budget)
    if (line.input.name == "reference scale")
      result.budget.push_back(line.stated
                                  ? relative_line("reference scale", relative(line, micrometer.um_per_pixel.value),
                                                  factor, Distribution::normal, kInfinity, line.basis)
                                  : line);
  const CombinedUncertainty combined = sum_of(result.budget);
  result.um_per_division = factor_of(factor, combined);
  result.budget_complete = is_complete(result.budget);
  result.coincidences = coincidences_of(own, other);
  return result;
}

}  // namespace scale
