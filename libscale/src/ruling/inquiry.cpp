#include "ruling/inquiry.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "ruling/division.h"

namespace scale {

namespace {

constexpr double kSamePitch = 0.02;  // of it
// By how much a part may differ from the whole: the pitch by all that it changes over the field, the direction by less.
constexpr double kDistortedPitch = 0.1, kDistortedDirection = 0.1;  // of the pitch; radians
constexpr std::size_t kManyLines = 10;                              // whose blur speaks for the whole ruling
constexpr double kPartOfBlurred = 0.8;    // of its lines: with fewer, a ruling is a part of the blurred one
constexpr double kPartOfScattered = 0.6;  // the same; with more, it may be the scale without foreign lines
constexpr int kHypothesesTried = 6;       // per direction
constexpr double kFinePartLimit = -8.0;   // log10 of false alarms
constexpr double kPlainPart = -20.0;      // the same, of a part that is there even where it cannot be measured: certain
constexpr double kFinePartOccupancy = 0.8;
constexpr int kFinePartsTried = 2;
constexpr double kIntegerTolerance = 0.02;
constexpr double kLeastPartOccupancy = 0.6;
constexpr double kAlikeRows = 0.2, kAcross = 0.2;  // logarithm of the ratio of pitches; radians from a right angle
constexpr std::size_t kCountingAttempts = 4;       // in which lines too faint to be measured may still be counted

bool overlap(const Lattice& a, const Lattice& b) {
  const double from = std::max(a.position.front(), b.position.front()),
               to = std::min(a.position.back(), b.position.back());
  return to - from > 0.5 * (b.position.back() - b.position.front());
}

// The parts of a finer lattice that coincide with the leader's lines must not differ from the others in strength
// or place: else the finer period is an accident of the leader's own line structure.
bool parts_alike(const Lattice& fine, int parts) {
  std::vector<double> strength(static_cast<std::size_t>(parts), 0.0), offset(strength), count(strength);
  double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (std::size_t i = 0; i < fine.index.size(); ++i) {
    const double x = fine.index[i], y = fine.position[i];
    n += 1.0, sx += x, sy += y, sxx += x * x, sxy += x * y;
  }
  const double pitch = (sxy - sx * sy / n) / (sxx - sx * sx / n), origin = (sy - pitch * sx) / n;
  for (std::size_t i = 0; i < fine.index.size(); ++i) {
    const std::size_t c = static_cast<std::size_t>(fine.index[i] % parts);
    strength[c] += fine.edge_strength[i];
    offset[c] += fine.position[i] - origin - pitch * fine.index[i];
    count[c] += 1.0;
  }
  double weakest = 1e300, strongest = 0.0, low = 1e300, high = -1e300;
  for (std::size_t c = 0; c < count.size(); ++c) {
    if (count[c] == 0.0) return false;
    weakest = std::min(weakest, strength[c] / count[c]);
    strongest = std::max(strongest, strength[c] / count[c]);
    low = std::min(low, offset[c] / count[c]);
    high = std::max(high, offset[c] / count[c]);
  }
  return weakest > 0.4 * strongest && high - low < std::max(0.4, 0.08 * fine.pitch);
}

std::size_t division_of(const std::vector<Hypothesis>& hypotheses, std::size_t leader) {
  std::size_t best = leader;
  const Lattice& whole = hypotheses[leader].lattice;
  for (std::size_t i = 0; i < hypotheses.size(); ++i) {
    const Lattice& part = hypotheses[i].lattice;
    const double ratio = whole.pitch / part.pitch;
    const int parts = static_cast<int>(std::lround(ratio));
    if (parts < 2 || parts > kMostIntegerPart || std::abs(ratio - parts) > kIntegerTolerance * parts) continue;
    if (part.log10_false_alarms > -6.0 || part.occupancy < kLeastPartOccupancy || part.index.size() < 5) continue;
    if (part.pitch > 0.99 * hypotheses[best].lattice.pitch && best != leader) continue;
    if (!overlap(whole, part) || !parts_alike(part, parts)) continue;
    best = i;
  }
  return best;
}

// A part of a ruling that no one factor fits has a factor, though not that of the field.
bool is_part_of_distorted(const Inquiry& inquiry, const Ruling& ruling) {
  return std::any_of(inquiry.distorted.begin(), inquiry.distorted.end(), [&](const DistortedRuling& whole) {
    return std::abs(ruling.pitch_px - whole.pitch) < kDistortedPitch * whole.pitch &&
           std::abs(folded(ruling.direction.value - whole.direction)) < kDistortedDirection &&
           ruling.graduations.size() < whole.lines;
  });
}

// What hides between many lines hides between the few, or the longer ones, of them that another look finds, where it
// did not count `counted` of them in place of each.
bool hides_finer_lines(const Inquiry& inquiry, const Ruling& ruling, int counted) {
  return std::any_of(inquiry.blurred.begin(), inquiry.blurred.end(), [&](const BlurredRuling& blurred) {
    const auto lines = static_cast<double>(ruling.graduations.size());
    const bool part_of_it =
        blurred.block || lines < std::max<double>(kManyLines, kPartOfBlurred * static_cast<double>(blurred.lines));
    const double parts = std::round(ruling.pitch_px / counted / blurred.pitch);
    return parts >= (part_of_it ? 1.0 : 2.0) && parts <= kMostIntegerPart &&
           std::abs(ruling.pitch_px / counted - parts * blurred.pitch) < kSamePitch * blurred.pitch;
  });
}

// Rows of spots lie in two directions, and too little of a row may be seen in one of them to know it by itself.
bool are_rows_of_spots(const Inquiry& inquiry, const Ruling& ruling) {
  return std::any_of(inquiry.spots.begin(), inquiry.spots.end(), [&](const Tried& rows) {
    return std::abs(std::log(ruling.pitch_px / rows.pitch)) < kAlikeRows &&
           off_right_angle(ruling.direction.value, rows.direction) < kAcross;
  });
}

// Were most of the finer lines seen one by one, though too faint to be measured?
bool most_are_there(const Ruling& ruling) {
  if (ruling.graduations.size() < kManyLines) return false;
  const double places = ruling.graduations.back().index - ruling.graduations.front().index + 1.0;
  return static_cast<double>(ruling.graduations.size()) > 0.6 * places;
}

// How many times the one pitch is in the other, when that is a whole number; else 0.
int times(double pitch, double of) {
  const double ratio = of / pitch;
  const int whole = static_cast<int>(std::lround(ratio));
  return whole >= 1 && whole <= kMostIntegerPart && std::abs(ratio - whole) < kSamePitch * whole ? whole : 0;
}

bool same_lines(const Tried& a, const Tried& b) {
  return std::abs(folded(a.direction - b.direction)) < kDistortedDirection &&
         (times(a.pitch, b.pitch) > 0 || times(b.pitch, a.pitch) > 0);
}

// How many chances the picture has had to show these lines by accident: another look at many lines that were tried
// before, or at a part or a multiple of their distance, is no new one. But where many finer lines were seen and refused
// every look counts, lest coarser ones of them come through.
int chances(const Inquiry& inquiry, const Tried& now, std::size_t lines) {
  const auto all = static_cast<int>(inquiry.tried.size()) + 1;
  const auto hides = [&](const Tried& before) {
    return before.dense && same_lines(before, now) && times(before.pitch, now.pitch) >= 2;
  };
  if (lines < kManyLines || std::any_of(inquiry.tried.begin(), inquiry.tried.end(), hides)) return all;
  std::vector<Tried> families{now};
  for (const Tried& before : inquiry.tried)
    if (std::none_of(families.begin(), families.end(), [&](const Tried& f) { return same_lines(f, before); }))
      families.push_back(before);
  return static_cast<int>(families.size());
}

// What speaks against later attempts at the same lines.
void remember(Inquiry& inquiry, const Attempt& attempt) {
  const Ruling& ruling = attempt.ruling;
  const std::size_t lines = ruling.graduations.size();
  if (lines < kManyLines) return;
  const double pitch = ruling.pitch_px, direction = ruling.direction.value;
  if ((attempt.blurred || attempt.block) && most_are_there(ruling))
    inquiry.blurred.push_back({pitch, lines, attempt.block});
  if (attempt.barely && most_are_there(ruling)) inquiry.blurred.push_back({pitch});  // every second one is no division
  if (attempt.spots) inquiry.spots.push_back({pitch, direction});
  if (attempt.distorted) inquiry.distorted.push_back({pitch, direction, lines});
  if (attempt.scattered)
    inquiry.distorted.push_back(
        {pitch, direction, static_cast<std::size_t>(kPartOfScattered * static_cast<double>(lines))});
}

Failure nothing_found() {
  return {"period", "no-ruling",
          "no set of parallel, evenly spaced lines was found; is the scale in view, in focus and lit?"};
}

// Makes the lines of `ruling` every `parts`-th graduation.
void count_parts(Ruling& ruling, int parts) {
  assert(ruling.counted_by == 1);
  ruling.pitch_px /= parts;
  ruling.pitch_uncertainty_px /= parts;
  ruling.counted_by = parts;
  for (Graduation& graduation : ruling.graduations) graduation.index *= parts;
  ruling.missing = places_missing(ruling);
}

// What was found, when finer lines stand in the place of each of its own and could not be measured: they are counted
// where that is sure, and else no factor may be given.
Attempt with_unmeasured(const Inquiry& inquiry, Attempt found, const Attempt& finer, int parts) {
  const bool nearly_measured = inquiry.tried.size() <= kCountingAttempts && (parts == 5 || parts == 10) &&
                               finer.failure->code != "too-blurred" && found.ruling.graduations.size() >= 10 &&
                               most_are_there(finer.ruling);
  if (parts == found.parts || nearly_measured)
    count_parts(found.ruling, parts);
  else
    found.failure =
        Failure{"period", "unresolved",
                "between the lines found there are finer ones that are too faint or blurred to be measured; "
                "use a higher magnification or a sharper picture"};
  return found;
}

}  // namespace

Attempt put_to_test(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search, const Hypothesis& hypothesis,
                    bool divided) {
  Tried now{hypothesis.lattice.pitch * std::cos(hypothesis.angle), work.turned(hypothesis.angle)};
  const int number = chances(inquiry, now, hypothesis.lattice.index.size());
  Attempt result = attempt(work, search.strips, hypothesis, inquiry.noise, divided, number);
  now.dense = most_are_there(result.ruling);
  if (!result.ruling.graduations.empty()) inquiry.tried.push_back(now);
  if (!result.failure && hides_finer_lines(inquiry, result.ruling, result.parts))
    result.failure = Failure{"graduations", "too-blurred",
                             "finer lines may hide between those that were found; take a sharper picture"};
  if (!result.failure && is_part_of_distorted(inquiry, result.ruling))
    result.failure = Failure{
        "graduations", "irregular",
        "these lines are a part of more, whose distance changes too much; set the slide level, or give only the "
        "part of the picture in which you measure"};
  if (!result.failure && are_rows_of_spots(inquiry, result.ruling))
    result.failure =
        Failure{"graduations", "no-ruling",
                "these lines lie across rows of spots that are as far apart: no ruled lines; if a scale is "
                "in view, give only its part of the picture"};
  remember(inquiry, result);
  return result;
}

Attempt look_closer(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search, Attempt found) {
  const Hypothesis finer = finest_division(search.sums, found.measured);
  if (finer.lattice.pitch > 0.9 * found.measured.lattice.pitch) {
    if (found.parts > 1)
      count_parts(found.ruling, found.parts);
    else if (found.hidden)
      found.failure = std::move(found.hidden);
    return found;
  }
  Attempt closer = put_to_test(inquiry, work, search, finer);
  if (!closer.failure) return closer;
  const int parts = static_cast<int>(std::lround(found.measured.lattice.pitch / finer.lattice.pitch));
  return with_unmeasured(inquiry, std::move(found), closer, parts);
}

Attempt nothing_yet() {
  Attempt none;
  none.failure = nothing_found();
  return none;
}

bool found_nothing(const Attempt& attempt) {
  return attempt.failure && attempt.failure->stage == "period" && attempt.failure->code == "no-ruling";
}

Attempt try_hypotheses(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search,
                       std::vector<double>& tried) {
  Attempt best = nothing_yet();
  const auto known = [&tried](double pitch) {
    return std::any_of(tried.begin(), tried.end(), [&](double p) { return std::abs(p - pitch) < 0.01 * p; });
  };
  const std::size_t most = tried.size() + kHypothesesTried;
  for (std::size_t h = 0; h < search.hypotheses.size() && tried.size() < most; ++h) {
    const Hypothesis& leader = search.hypotheses[h];
    if (leader.lattice.log10_false_alarms > inquiry.limit || known(leader.lattice.pitch)) continue;
    const std::size_t part = division_of(search.hypotheses, h);
    std::vector<Hypothesis> ways{finest_division(search.sums, search.hypotheses[part])};
    if (part != h) ways.push_back(finest_division(search.sums, leader));
    ways.push_back(leader);
    const bool divided = ways.size() == 2 && ways.front().lattice.pitch < 0.9 * leader.lattice.pitch;
    for (const Hypothesis& hypothesis : ways) {
      if (known(hypothesis.lattice.pitch)) continue;
      tried.push_back(hypothesis.lattice.pitch);
      Attempt result = put_to_test(inquiry, work, search, hypothesis, divided && &hypothesis == &ways.back());
      if (!result.failure) return look_closer(inquiry, work, search, std::move(result));
      if (found_nothing(best)) best = std::move(result);
    }
  }
  return best;
}

Attempt try_search(Inquiry& inquiry, const WorkingView& work, PeriodSearch& search) {
  std::vector<double> tried;
  Attempt result = try_hypotheses(inquiry, work, search, tried);
  if (!result.failure || !search_deeper(search)) return result;
  Attempt deeper = try_hypotheses(inquiry, work, search, tried);
  return deeper.failure && !found_nothing(result) ? result : deeper;
}

Attempt look_for_fine_part(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search, Attempt found) {
  std::vector<double> periods;
  for (const int parts : {20, 10, 5, 2}) {
    const double period = found.ruling.pitch_px / (parts * std::cos(search.angle()));
    if (period > kLeastPart) periods.push_back(period);
  }
  if (periods.empty()) return found;
  int tried = 0;
  for (const Hypothesis& h : search_for(search, periods)) {
    if (h.lattice.log10_false_alarms > kFinePartLimit || h.lattice.occupancy < kFinePartOccupancy ||
        h.lattice.index.size() < 6)
      continue;
    const bool part = std::any_of(periods.begin(), periods.end(),
                                  [&](double p) { return std::abs(h.lattice.pitch - p) < kIntegerTolerance * p; });
    if (!part) continue;
    Attempt finer = put_to_test(inquiry, work, search, h);
    if (!finer.failure) return finer;
    // Twice as many may be the bright flanks of dark lines.
    const int parts = static_cast<int>(std::lround(found.measured.lattice.pitch / h.lattice.pitch));
    if (parts >= 5 && h.lattice.log10_false_alarms < kPlainPart && most_are_there(finer.ruling))
      return with_unmeasured(inquiry, std::move(found), finer, parts);
    if (++tried == kFinePartsTried) break;
  }
  return found;
}

}  // namespace scale
