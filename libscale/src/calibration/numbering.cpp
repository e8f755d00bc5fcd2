#include "calibration/numbering.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <span>

#include "numeric/robust.h"

namespace scale::calibration {
namespace {

// A long graduation is at least this much longer than the median one. Levels in use are 1 : 1.5 : 2 (common practice,
// no source); the medium ones must stay below.
constexpr double kLongRatio = 1.6;
constexpr double kMediumRatio = 1.25;
// Base ends line up: the scatter of one end over that of the other.
constexpr double kBaseRatio = 0.5;
// Empty divisions that make an end (docs: three).
constexpr double kEmptyDivisions = 3.0;
// Of a long interval: how far a stated middle may be off. Just below the half, where it could mean either neighbour.
constexpr double kCentreTolerance = 0.45;

// A line in the ruling's own frame: v runs a quarter turn from its direction, from +x towards +y.
struct Side {
  int index;
  double low_v, high_v;
  double length() const { return high_v - low_v; }
};

std::vector<Side> sides_of(const Ruling& ruling) {
  const double s = std::sin(ruling.direction.value), c = std::cos(ruling.direction.value);
  std::vector<Side> sides;
  for (const Graduation& line : ruling.graduations) {
    const double v1 = -line.x1_px * s + line.y1_px * c, v2 = -line.x2_px * s + line.y2_px * c;
    sides.push_back({line.index, std::min(v1, v2), std::max(v1, v2)});
  }
  return sides;
}

double median_length(const std::vector<Side>& sides) {
  std::vector<double> lengths;
  for (const Side& side : sides) lengths.push_back(side.length());
  return numeric::median(std::span<const double>(lengths));
}

struct Levels {
  std::optional<int> phase;  // long graduations have index = phase (modulo long_every)
  int free_side = 0;         // +1: they reach further towards +v, -1: towards -v, 0: cannot be told
};

int remainder(int value, int divisor) { return ((value % divisor) + divisor) % divisor; }

// The side on which long graduations end apart from short ones, while the other ends line up.
int free_side(const std::vector<Side>& sides, const std::vector<Side>& longs) {
  std::vector<double> low, high;
  for (const Side& side : sides) low.push_back(side.low_v), high.push_back(side.high_v);
  const double low_base = numeric::median(std::span<const double>(low));
  const double high_base = numeric::median(std::span<const double>(high));
  double below = 0.0, above = 0.0;
  for (const Side& side : longs) below += low_base - side.low_v, above += side.high_v - high_base;
  if (above > 0.0 && std::abs(below) < kBaseRatio * above) return 1;
  if (below > 0.0 && std::abs(above) < kBaseRatio * below) return -1;
  return 0;
}

// Do graduations of medium length stand half a long interval away from the long one, and nowhere else?
bool medium_half_way(const std::vector<Side>& sides, int long_index, double usual, int long_every) {
  int seen = 0;
  for (const Side& side : sides) {
    if (side.length() < kMediumRatio * usual || side.length() > kLongRatio * usual) continue;
    if (remainder(side.index - long_index, long_every) != long_every / 2) return false;
    ++seen;
  }
  return seen > 0 && long_every % 2 == 0;
}

Levels levels_of(const Ruling& ruling, int long_every) {
  Levels levels;
  const std::vector<Side> sides = sides_of(ruling);
  if (long_every <= 1 || sides.size() < 3) return levels;
  const double usual = median_length(sides);
  std::vector<Side> longs;
  for (const Side& side : sides)
    if (side.length() > kLongRatio * usual) longs.push_back(side);
  // Two that agree, and none that does not: one long line alone may be a scratch, if no medium ones stand around it.
  if (longs.empty() || (longs.size() == 1 && !medium_half_way(sides, longs.front().index, usual, long_every)))
    return levels;
  const int phase = remainder(longs.front().index, long_every);
  const bool agree = std::all_of(longs.begin(), longs.end(),
                                 [&](const Side& side) { return remainder(side.index, long_every) == phase; });
  if (!agree) return levels;
  levels.phase = phase;
  levels.free_side = free_side(sides, longs);
  return levels;
}

// Is the picture seen, and empty, for some divisions beyond the line that is the first (towards -1) or last (+1)?
bool ends_in_view(const Ruling& ruling, int width, int height, const ShotHints& hints, int towards) {
  const Graduation& line = towards < 0 ? ruling.graduations.front() : ruling.graduations.back();
  const double reach = towards * kEmptyDivisions * ruling.pitch_px;
  const double x = 0.5 * (line.x1_px + line.x2_px) + reach * std::cos(ruling.direction.value) - hints.frame_x;
  const double y = 0.5 * (line.y1_px + line.y2_px) + reach * std::sin(ruling.direction.value) - hints.frame_y;
  return x >= 0.0 && y >= 0.0 && x <= width - 1.0 && y <= height - 1.0;
}

// Index, with its fraction, of the point of the axis nearest to the middle of the frame.
double index_at_centre(const Ruling& ruling, int width, int height, const ShotHints& hints) {
  const double x = hints.frame_x + 0.5 * (width - 1), y = hints.frame_y + 0.5 * (height - 1);
  const double along = x * std::cos(ruling.direction.value) + y * std::sin(ruling.direction.value);
  return (along - ruling.origin_px) / ruling.pitch_px;
}

// Which way numbers run, by the side of the free ends.
std::optional<int> step_by_free_ends(const Levels& levels, const ReferenceScale& scale, const ShotHints& hints) {
  if (levels.free_side == 0 || scale.free_ends == FreeEnds::unknown) return std::nullopt;
  const int down = scale.free_ends == FreeEnds::down ? 1 : -1;
  return levels.free_side * down * (hints.mirrored ? -1 : 1);
}

// Which way numbers run, as a person says; nothing when the scale lies across that.
std::optional<int> step_by_word(const Ruling& ruling, const ShotHints& hints) {
  constexpr double kAcross = 0.3;  // some 70 degrees off
  const double right = std::cos(ruling.direction.value), down = std::sin(ruling.direction.value);
  double along = 0.0;
  if (hints.numbers_run == NumbersRun::right) along = right;
  if (hints.numbers_run == NumbersRun::left) along = -right;
  if (hints.numbers_run == NumbersRun::down) along = down;
  if (hints.numbers_run == NumbersRun::up) along = -down;
  if (std::abs(along) < kAcross) return std::nullopt;
  return along > 0.0 ? 1 : -1;
}

Numbering unknown(const std::string& reason) { return {false, 0, 1, reason}; }

std::string why_several(const std::vector<Numbering>& left, const Levels& levels, const ShotHints& hints) {
  const bool both = std::any_of(left.begin(), left.end(), [&](const Numbering& n) { return n.step != left[0].step; });
  if (both)
    return "the direction in which its graduations are numbered cannot be told from the picture; say it (numbers_run)";
  if (!levels.phase)
    return "long graduations cannot be told from short ones and the ends of the scale are not in view; bring more of "
           "it "
           "into view";
  if (hints.centre) return "the stated place in the middle fits more than one numbering; state it closer (centre)";
  return "no end of the scale is in view; state what lies in the middle of the picture (centre)";
}

// What strikes candidates out.
struct Seen {
  Levels levels;
  std::optional<int> step;
  bool low_end = false, high_end = false;
  double centre_index = 0.0;
};

Seen look_at(const Ruling& ruling, int width, int height, const ReferenceScale& scale, const ShotHints& hints) {
  Seen seen;
  seen.levels = levels_of(ruling, scale.long_every);
  const auto said = step_by_word(ruling, hints);
  seen.step = said ? said : step_by_free_ends(seen.levels, scale, hints);
  seen.low_end = ends_in_view(ruling, width, height, hints, -1);
  seen.high_end = ends_in_view(ruling, width, height, hints, 1);
  // Lines that were merely not followed look like an end: one alone is believed where a long graduation ends it, two
  // where the count agrees.
  const int last = ruling.graduations.back().index;
  const bool both = seen.low_end && seen.high_end;
  if (both ? last != scale.divisions : !seen.levels.phase) seen.low_end = seen.high_end = false;
  seen.centre_index = index_at_centre(ruling, width, height, hints);
  return seen;
}

bool agrees(const Numbering& numbering, int last, const Seen& seen, const ReferenceScale& scale,
            const ShotHints& hints) {
  const int end = numbering.first + numbering.step * last;
  if (end < 0 || end > scale.divisions) return false;
  if (seen.step && *seen.step != numbering.step) return false;
  const auto& phase = seen.levels.phase;
  if (phase && remainder(numbering.first + numbering.step * *phase, scale.long_every) != 0) return false;
  if (seen.low_end && numbering.first != (numbering.step > 0 ? 0 : scale.divisions)) return false;
  if (seen.high_end && end != (numbering.step > 0 ? scale.divisions : 0)) return false;
  if (!hints.centre) return true;
  const double centre = (numbering.first + numbering.step * seen.centre_index) * scale.division.value;
  const double interval = std::max(1, scale.long_every) * scale.division.value;
  return std::abs(centre - hints.centre->value) < kCentreTolerance * interval;
}

std::vector<Numbering> candidates(int last, const Seen& seen, const ReferenceScale& scale, const ShotHints& hints) {
  std::vector<Numbering> left;
  for (const int step : {1, -1})
    for (int first = 0; first <= scale.divisions; ++first)
      if (const Numbering numbering{true, first, step, ""}; agrees(numbering, last, seen, scale, hints))
        left.push_back(numbering);
  return left;
}

}  // namespace

Numbering number_graduations(const Ruling& ruling, int width, int height, const ReferenceScale& scale,
                             const ShotHints& hints) {
  if (scale.divisions <= 0) return unknown("the number of divisions of the scale is not stated");
  if (ruling.counted_by != 1) return unknown("only every so many graduation could be measured");
  const int last = ruling.graduations.back().index;
  Seen seen = look_at(ruling, width, height, scale, hints);
  std::vector<Numbering> left = candidates(last, seen, scale, hints);
  if (left.empty() && (seen.low_end || seen.high_end)) {
    // An end that contradicts all else is none.
    seen.low_end = seen.high_end = false;
    left = candidates(last, seen, scale, hints);
  }
  if (left.empty())
    return unknown("what is seen and stated of it does not fit on a scale of " + std::to_string(scale.divisions) +
                   " divisions; check centre, numbers_run and divisions");
  if (left.size() > 1) return unknown(why_several(left, seen.levels, hints));
  left.front().reason = hints.centre ? "the place in the middle was stated" : "read from the picture";
  return left.front();
}

}  // namespace scale::calibration
