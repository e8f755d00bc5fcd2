#include "calibration/which_reticle.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "calibration/local_ratio.h"
#include "numeric/straight_line.h"

namespace scale::calibration {
namespace {

constexpr int kMiscount = 3;                   // divisions: a scale seen whole may have lost so many lines at its ends
constexpr int kAtEnd = 8, kMeasuredThere = 7;  // places at an end among other lines, and how many were measured

// By what a person said: the first ruling's place among the two in that order.
std::size_t as_said(const Reading& two, ReticleIs is) {
  const Ruling &a = two.rulings[0], &b = two.rulings[1];
  if (is == ReticleIs::finer) return a.pitch_px <= b.pitch_px ? 0 : 1;
  if (is == ReticleIs::coarser) return a.pitch_px <= b.pitch_px ? 1 : 0;
  const bool first_above = middle_of(a).y < middle_of(b).y;
  return (is == ReticleIs::upper) == first_above ? 0 : 1;
}

// What counting shows of one scale, divisions.
struct Count {
  int places = 0;  // from the first line to the last one
  int least = 0;   // that are there for certain
  bool whole = false;

  bool may_have(int divisions, int room) const {
    return least <= divisions + room && (!whole || divisions - places <= kMiscount);
  }
  bool is_not(int divisions) const { return whole && std::abs(places - divisions) > kMiscount; }
};

bool at_end(const Graduation& line, const Graduation& end) { return std::abs(line.index - end.index) < kAtEnd; }

// The distance of the lines near one end, by least squares; that of all where there are too few.
double pitch_near(const Ruling& ruling, const Graduation& end) {
  std::vector<double> indices, places;
  for (const Graduation& line : ruling.graduations)
    if (at_end(line, end)) indices.push_back(line.index), places.push_back(line.position_px);
  return indices.size() > 2 ? numeric::fit_line(indices, places).slope : ruling.pitch_px;
}

// Lines among those of another scale, at its distance rather than at their own: they may be its lines, beyond the end
// of this one.
bool ends_as_other(const Ruling& own, const Ruling& other) {
  const auto like_other = [&](const Graduation& end) {
    const double pitch = std::abs(pitch_near(own, end));
    return std::abs(pitch - other.pitch_px) < std::abs(pitch - own.pitch_px);
  };
  return like_other(own.graduations.front()) || like_other(own.graduations.back());
}

// `other`: the scale among whose lines these lie, if they do.
Count count_of(const Ruling& ruling, const EndsSeen& ends, const Ruling* other) {
  Count count{span_of(ruling), span_of(ruling), ends.first && ends.last};
  if (other == nullptr) return count;
  if (ends_as_other(ruling, *other)) return {count.places, 0, false};
  count.least = static_cast<int>(ruling.graduations.size()) - 1;
  count.whole = count.whole && clear_end(ruling.graduations, ruling.graduations.front()) &&
                clear_end(ruling.graduations, ruling.graduations.back());
  return count;
}

// Is `own` the reticle, for all that counting shows? The other one is longer than a reticle; or `own` is longer than
// the micrometer is said to be; or one is seen whole with its number, which is not the other's.
bool counted_as_reticle(const Count& own, const Count& other, int reticle, int micrometer, int room) {
  if (!own.may_have(reticle, room)) return false;
  if (other.least > reticle + room) return true;
  const bool as_reticle = own.whole && own.places == reticle;
  if (as_reticle && other.is_not(reticle)) return true;
  if (micrometer == 0 || !other.may_have(micrometer, room) || std::abs(micrometer - reticle) <= kMiscount) return false;
  return as_reticle || (other.whole && other.places == micrometer) ||
         (micrometer < reticle && own.least > micrometer + room);
}

Failure cannot_tell(const Reading& two, int reticle, int micrometer) {
  std::string message = "two scales of " + std::to_string(span_of(two.rulings[0])) + " and " +
                        std::to_string(span_of(two.rulings[1])) +
                        " divisions in view, and it cannot be told which is the reticle of " + std::to_string(reticle);
  if (micrometer > 0) message += " and which the micrometer of " + std::to_string(micrometer);
  message += "; say so with --reticle-is finer, coarser, upper or lower";
  if (micrometer == 0) message += ", or how many divisions the micrometer has with --divisions";
  return {"reticle", "which-reticle", std::move(message)};
}

double mean_length(const Ruling& ruling) {
  double sum = 0.0;
  for (const Graduation& line : ruling.graduations) sum += std::hypot(line.x2_px - line.x1_px, line.y2_px - line.y1_px);
  return sum / static_cast<double>(ruling.graduations.size());
}

}  // namespace

bool clear_end(const std::vector<Graduation>& lines, const Graduation& end) {
  const auto measured =
      std::count_if(lines.begin(), lines.end(), [&end](const Graduation& line) { return at_end(line, end); });
  return measured >= kMeasuredThere;
}

bool share_ground(const Ruling& a, const Ruling& b) {
  const double apart = std::min(std::abs(across(a, middle_of(b)) - across(a, middle_of(a))),
                                std::abs(across(b, middle_of(b)) - across(b, middle_of(a))));
  return apart < 0.5 * (mean_length(a) + mean_length(b));
}

tl::expected<std::size_t, Failure> reticle_of(const TwoRulings& two, const ReferenceScale& scale,
                                              const ReticleInView& reticle) {
  if (reticle.is != ReticleIs::unknown) return as_said(two.reading, reticle.is);
  const bool among = share_ground(two.reading.rulings[0], two.reading.rulings[1]);
  const int room = among ? kMiscount : 0;
  std::array<Count, 2> counts;
  for (std::size_t i = 0; i < 2; ++i)
    counts[i] = count_of(two.reading.rulings[i], two.ends[i], among ? &two.reading.rulings[1 - i] : nullptr);
  const bool first = counted_as_reticle(counts[0], counts[1], reticle.divisions, scale.divisions, room),
             second = counted_as_reticle(counts[1], counts[0], reticle.divisions, scale.divisions, room);
  if (first == second) return tl::unexpected<Failure>(cannot_tell(two.reading, reticle.divisions, scale.divisions));
  return first ? 0 : 1;
}

}  // namespace scale::calibration
