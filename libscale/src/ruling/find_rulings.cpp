#include <algorithm>
#include <cmath>

#include <scale/ruling.h>

#include "image/frame.h"
#include "ruling/begin_reading.h"
#include "ruling/direction.h"
#include "ruling/inquiry.h"
#include "ruling/period.h"
#include "ruling/row_turn.h"
#include "ruling/spectral_direction.h"
#include "ruling/working_view.h"

namespace scale {

namespace {

constexpr std::size_t kDirectionsTried = 8;  // that show anything at all:
constexpr double kSomething = -1.0;          // log10 of false alarms
constexpr double kDecisive = -30.0;          // log10 of false alarms: a direction so clear is tried at once,
constexpr double kDecisiveStep = 0.3;        // when its lines stand out by so much of the picture's contrast
constexpr double kSamePitch = 0.03;          // of it, for two leads to show the same lines
constexpr double kFarther = 1.1;             // times as long in all, the same lines followed farther
constexpr double kFarMore = 1.25;            // times as many: a few more are ends that one of them did not see
constexpr double kRoomAcross = 3.0;          // pitches beyond the lines found
constexpr double kRoomAlong = 2.0;           // band heights above and below
constexpr double kLeastRoomAlong = 48.0;     // pixels
constexpr double kKnownDirection = 0.02;     // radians, from what gradients show
constexpr double kCrossingTolerance = 0.35;  // radians from a right angle
constexpr double kCrossingRatio = 1.25;      // of the pitches of crossed rulings
constexpr double kCrossingLimit = -10.0;     // log10 of false alarms of the second one

// The part of the picture that a hypothesis speaks of, with room for lines it did not see.
cv::Rect surroundings(const WorkingView& work, const Hypothesis& hypothesis, const ImageView& image) {
  const double c = std::cos(hypothesis.angle), s = std::sin(hypothesis.angle);
  const double from = hypothesis.lattice.position.front() * c, to = hypothesis.lattice.position.back() * c;
  const double margin_t = kRoomAcross * hypothesis.lattice.pitch;
  const double margin_v = std::max(kRoomAlong * (hypothesis.v_high - hypothesis.v_low), 0.25 * (to - from));
  cv::Rect2d box;
  bool first = true;
  for (const double t : {from - margin_t, to + margin_t})
    for (const double v : {hypothesis.v_low - margin_v, hypothesis.v_high + margin_v}) {
      const cv::Point2d p = work.in_picture(t * c - v * s, t * s + v * c);
      const cv::Rect2d point(p.x, p.y, 1.0, 1.0);
      box = first ? point : box | point;
      first = false;
    }
  return cv::Rect(box) & cv::Rect(0, 0, image.width, image.height);
}

// The lines of an attempt that was refused, to show how far it came.
std::vector<RejectedLine> seen_lines(const Ruling& ruling) {
  std::vector<RejectedLine> lines;
  for (const Graduation& g : ruling.graduations) {
    const bool finite =
        std::isfinite(g.x1_px) && std::isfinite(g.y1_px) && std::isfinite(g.x2_px) && std::isfinite(g.y2_px);
    if (finite) lines.push_back({g.x1_px, g.y1_px, g.x2_px, g.y2_px, "refused"});
  }
  return lines;
}

// Tells a hypothesis in a frame whose origin lies at `origin` of another one in that other frame.
void move(Hypothesis& hypothesis, cv::Point origin) {
  const double c = std::cos(hypothesis.angle), s = std::sin(hypothesis.angle);
  for (double& position : hypothesis.lattice.position) position += origin.x + origin.y * s / c;
  hypothesis.v_low += origin.y * c - origin.x * s;
  hypothesis.v_high += origin.y * c - origin.x * s;
}

PeriodSearch search_all(const WorkingView& work, double image_angle, double noise, PeriodRange periods) {
  const double angle = work.turned(image_angle);
  return search_period(work, angle, noise, along_range(work.view, angle), periods);
}

// What leads a search when it stands in a slender row: that row alone, set level.
Attempt try_level_row(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search) {
  const Hypothesis& leader = search.hypotheses.front();
  const auto row = level_row(work.view, search.strips, leader);
  if (!row) return nothing_yet();
  const double room = std::max(kRoomAlong * (row->v_high - row->v_low), kLeastRoomAlong);
  const AlongRange whole = along_range(work.view, row->angle);
  PeriodSearch level = unsearched(work.view, row->angle, inquiry.noise,
                                  {std::max(whole.low, row->v_low - room), std::min(whole.high, row->v_high + room)});
  std::vector<double> periods;
  for (const Hypothesis& hypothesis : search.hypotheses)
    if (hypothesis.lattice.log10_false_alarms <= inquiry.limit)
      periods.push_back(hypothesis.lattice.pitch * std::cos(hypothesis.angle) / std::cos(row->angle));
  level.hypotheses = search_for(level, periods);
  std::vector<double> tried;
  return try_hypotheses(inquiry, work, level, tried);
}

// What leads a search, looked at once more in its own surroundings when these are a small part of the picture: there
// the direction is no longer disturbed by what else there is and the bands are finer.
struct Closer {
  Attempt result;
  cv::Point origin;
  bool of_lead = false;  // from the lead's own search, which has looked for finer lines already
};

Closer try_leader(Inquiry& inquiry, const WorkingView& work, PeriodSearch& search) {
  const Hypothesis leader = search.hypotheses.front();
  const double angle = work.turned(search.angle());
  const cv::Rect region = surroundings(work, leader, inquiry.pictures.image());
  if (2 * region.area() < work.view.width * work.view.height && region.width >= kLeastSide &&
      region.height >= kLeastSide) {
    const WorkingView part = inquiry.pictures.view(region, angle);
    PeriodSearch near = search_all(part, angle, inquiry.noise, search.periods);
    return {try_search(inquiry, part, near), part.offset};
  }
  const AlongRange whole = along_range(work.view, search.angle());
  const double room = std::max(kRoomAlong * (leader.v_high - leader.v_low), kLeastRoomAlong);
  const AlongRange range{std::max(whole.low, leader.v_low - room), std::min(whole.high, leader.v_high + room)};
  if (range.high - range.low < 0.5 * (whole.high - whole.low)) {
    PeriodSearch near = search_period(work, search.angle(), inquiry.noise, range, search.periods);
    return {try_search(inquiry, work, near), work.offset};
  }
  return {nothing_yet(), work.offset};
}

// One direction, searched over its region.
struct Lead {
  DirectionCandidate candidate;
  WorkingView work;
  PeriodSearch search;

  double log10_false_alarms() const {
    return search.hypotheses.empty() ? 0.0 : search.hypotheses.front().lattice.log10_false_alarms;
  }
  bool decisive(double contrast) const {
    return std::any_of(search.hypotheses.begin(), search.hypotheses.end(), [&](const Hypothesis& h) {
      return h.lattice.log10_false_alarms <= kDecisive && h.step >= kDecisiveStep * contrast;
    });
  }
};

Lead search_direction(Inquiry& inquiry, const DirectionCandidate& candidate, PeriodRange periods = {}) {
  Lead lead{candidate, inquiry.pictures.view(candidate.region, candidate.angle), {}};
  lead.search = search_all(lead.work, candidate.angle, inquiry.noise, periods);
  return lead;
}

bool same_pitch(double pitch, const Ruling& found) {
  return found.counted_by == 1 && std::abs(pitch - found.pitch_px) < kSamePitch * found.pitch_px;
}

// Does the lead show far more lines of the same distance than were measured?
bool sees_more(const Lead& lead, const Ruling& found) {
  return std::any_of(lead.search.hypotheses.begin(), lead.search.hypotheses.end(), [&](const Hypothesis& h) {
    return same_pitch(h.lattice.pitch * std::cos(h.angle), found) &&
           static_cast<double>(h.lattice.index.size()) > kFarMore * static_cast<double>(found.graduations.size());
  });
}

// A whole that no one factor fits speaks against its parts, and so do finer lines that hide in it; a block of those
// also where it has no more lines than the part that does not show it.
bool is_whole_of(const Attempt& whole, const Ruling& part) {
  const std::size_t lines = whole.ruling.graduations.size(), of_part = part.graduations.size();
  if (!whole.failure) return lines > of_part;
  const bool speaks_against =
      (whole.block && lines >= of_part) || ((whole.distorted || whole.blurred) && lines > of_part);
  return speaks_against && same_pitch(whole.ruling.pitch_px, part);
}

double length_of(const Ruling& ruling) {
  double sum = 0.0;
  for (const Graduation& g : ruling.graduations) sum += std::hypot(g.x2_px - g.x1_px, g.y2_px - g.y1_px);
  return sum;
}

// The same lines, followed beyond the part that was looked at.
bool reaches_farther(const Attempt& whole, const Ruling& part) {
  return !whole.failure && whole.ruling.graduations.size() == part.graduations.size() &&
         same_pitch(whole.ruling.pitch_px, part) && length_of(whole.ruling) > kFarther * length_of(part);
}

// Its hypotheses put to the test, first in the surroundings of what leads.
Attempt try_direction(Inquiry& inquiry, Lead& lead) {
  const DirectionCandidate& candidate = lead.candidate;
  const WorkingView& work = lead.work;
  PeriodSearch& search = lead.search;
  Pictures& pictures = inquiry.pictures;
  Closer closer{nothing_yet(), work.offset};
  if (lead.log10_false_alarms() <= inquiry.limit) {
    closer.result = try_level_row(inquiry, work, search);
    if (closer.result.failure) closer = try_leader(inquiry, work, search);
  }
  Attempt& result = closer.result;
  if (result.failure) {
    closer = {try_search(inquiry, work, search), work.offset, true};
  } else if (sees_more(lead, result.ruling)) {
    Attempt whole = try_search(inquiry, work, search);
    if (is_whole_of(whole, result.ruling)) closer = {std::move(whole), work.offset, true};
  }
  if (result.failure || result.ruling.counted_by > 1) return result;
  // The finer lines may lie outside the part that was searched.
  const WorkingView whole = pictures.view(pictures.everything(), candidate.angle);
  move(result.measured, whole.transposed ? cv::Point(closer.origin.y, closer.origin.x) : closer.origin);
  const bool searched = candidate.region == pictures.everything();
  if (!searched || !closer.of_lead) {
    const double angle = result.measured.angle;
    const PeriodSearch unseen =
        searched ? PeriodSearch{} : unsearched(whole.view, angle, inquiry.noise, along_range(whole.view, angle));
    const PeriodSearch& everywhere = searched ? search : unseen;
    Attempt wider = put_to_test(inquiry, whole, everywhere, result.measured);
    if (is_whole_of(wider, result.ruling) || reaches_farther(wider, result.ruling)) result = std::move(wider);
    if (result.failure) return result;
    result = look_closer(inquiry, whole, everywhere, std::move(result));
  }
  if (result.failure || result.ruling.counted_by > 1) return result;
  return look_for_fine_part(inquiry, work, search, std::move(result));
}

// What was found, or the whole of which it is a part when one of the leads that wait shows it.
Attempt whole_of(Inquiry& inquiry, Attempt found, std::vector<Lead>& waiting, std::vector<double>& tried_deg) {
  for (Lead& lead : waiting) {
    if (!sees_more(lead, found.ruling)) continue;
    tried_deg.push_back(degrees({lead.candidate.angle}));
    Attempt whole = try_direction(inquiry, lead);
    if (is_whole_of(whole, found.ruling)) return whole;
  }
  return found;
}

// Adds directions of what repeats without clear gradients, seen in the whole picture, and returns them.
std::vector<DirectionCandidate> add_repeating(std::vector<DirectionCandidate>& candidates, const Pictures& pictures) {
  std::vector<DirectionCandidate> added;
  for (const double angle : spectral_directions(pictures.image())) {
    const bool known = std::any_of(candidates.begin(), candidates.end(), [&](const DirectionCandidate& other) {
      return other.region == pictures.everything() && std::abs(folded(angle - other.angle)) < kKnownDirection;
    });
    if (!known) added.push_back({angle, pictures.everything()});
  }
  candidates.insert(candidates.begin(), added.begin(), added.end());
  return added;
}

// The first direction that holds a ruling. Those whose evidence is weak wait until all have been searched: the true one
// need not be the one with the most edges, and every attempt at another makes the judgement stricter.
Attempt find_first(Inquiry& inquiry, std::vector<DirectionCandidate>& candidates, std::vector<double>& tried_deg) {
  Attempt best = nothing_yet();
  const auto good = [&](Lead& lead) {
    tried_deg.push_back(degrees({lead.candidate.angle}));
    Attempt result = try_direction(inquiry, lead);
    if (!result.failure || found_nothing(best)) best = std::move(result);
    return !best.failure;
  };
  std::vector<Lead> waiting;
  // Tried at once where it is decisive; true when that settles the matter.
  const auto settles = [&](Lead lead) {
    if (!lead.decisive(inquiry.contrast)) {
      waiting.push_back(std::move(lead));
      return false;
    }
    return good(lead);
  };
  std::size_t searched = 0;
  for (const DirectionCandidate& candidate : candidates) {
    Lead lead = search_direction(inquiry, candidate);
    if (lead.log10_false_alarms() > kSomething) continue;  // shading and the like
    if (++searched > kDirectionsTried) break;
    if (settles(std::move(lead))) return whole_of(inquiry, std::move(best), waiting, tried_deg);
  }
  for (const DirectionCandidate& candidate : add_repeating(candidates, inquiry.pictures)) {
    Lead lead = search_direction(inquiry, candidate);
    if (lead.log10_false_alarms() > inquiry.limit) continue;
    if (settles(std::move(lead))) return whole_of(inquiry, std::move(best), waiting, tried_deg);
  }
  for (Lead& lead : waiting)
    if (good(lead)) return best;
  return best;
}

// A second ruling across the first, of about the same division: crossed scales and grids.
std::optional<Ruling> find_crossing(Inquiry inquiry, const std::vector<DirectionCandidate>& candidates,
                                    const Ruling& first) {
  inquiry.tried.clear();
  inquiry.limit = std::min(inquiry.limit, kCrossingLimit);
  for (const DirectionCandidate& candidate : candidates) {
    const double turn = off_right_angle(candidate.angle, first.direction.value);
    if (turn > kCrossingTolerance || !candidate.seen) continue;
    // Levels of a scale may hide its division, so that whole multiples are let through.
    const double skew = std::max(std::abs(std::cos(candidate.angle)), std::abs(std::sin(candidate.angle)));
    const PeriodRange periods{first.pitch_px / kCrossingRatio / skew,
                              kMostIntegerPart * kCrossingRatio * first.pitch_px / skew};
    Lead lead = search_direction(inquiry, candidate, periods);
    Attempt result = try_direction(inquiry, lead);
    if (result.failure || result.ruling.low_confidence) continue;
    const double ratio = result.ruling.pitch_px / first.pitch_px;
    const double crossing = off_right_angle(result.ruling.direction.value, first.direction.value);
    if (ratio < 1.0 / kCrossingRatio || ratio > kCrossingRatio || crossing > kCrossingTolerance) continue;
    return result.ruling;
  }
  return std::nullopt;
}

// What rounding to whole grey values leaves where nothing else is seen, or as little of a float picture's range.
double least_noise(const ImageView& image, const FrameStatistics& statistics) {
  return image.type == SampleType::f32 ? 1e-3 * (statistics.high - statistics.low) : 0.3;
}

}  // namespace

Reading find_rulings(const ImageView& image, const RulingOptions& options) {
  Beginning begun = begin_reading(image, options);
  Reading reading = std::move(begun.reading);
  const FrameStatistics& statistics = begun.statistics;
  if (reading.failure) return reading;
  Pictures pictures(image);
  const double noise = std::max(statistics.noise, least_noise(image, statistics));
  std::vector<DirectionCandidate> candidates = candidate_directions(pictures, noise, statistics.high - statistics.low);
  Inquiry inquiry{pictures, noise, statistics.high - statistics.low, std::log10(options.false_alarm_limit)};
  Attempt first = find_first(inquiry, candidates, reading.directions_tried_deg);
  if (first.failure) {
    reading.failure = first.failure;
    reading.lines_seen = seen_lines(first.ruling);
    return reading;
  }
  reading.rulings.push_back(std::move(first.ruling));
  if (auto crossing = find_crossing(inquiry, candidates, reading.rulings.front()))
    reading.rulings.push_back(std::move(*crossing));
  for (const Ruling& ruling : reading.rulings)
    if (ruling.counted_by > 1)
      reading.warnings.push_back(
          {"coarse-lines-only", "the finest lines are too faint to be measured one by one; the factor rests on every " +
                                    std::to_string(ruling.counted_by) + "th line"});
  return reading;
}

}  // namespace scale
