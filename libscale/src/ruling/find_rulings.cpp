#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <scale/ruling.h>

#include "image/frame.h"
#include "ruling/direction.h"
#include "ruling/graduations.h"
#include "ruling/line_fit.h"
#include "ruling/period.h"
#include "ruling/plausible.h"

namespace scale {

namespace {

constexpr std::size_t kDirectionsTried = 8;
constexpr int kHypothesesTried = 6;  // per direction
constexpr int kLeastGraduations = 3;
constexpr int kLeastSide = 24;            // pixels, of a picture or a part of it
constexpr double kRoomAcross = 3.0;       // pitches beyond the lines found
constexpr double kRoomAlong = 2.0;        // band heights above and below
constexpr double kLeastRoomAlong = 48.0;  // pixels
constexpr double kFinePartLimit = -8.0;   // log10 of false alarms
constexpr double kFinePartOccupancy = 0.8;
constexpr int kFinePartsTried = 2;
constexpr double kCrossingTolerance = 0.35;  // radians from a right angle
constexpr double kCrossingRatio = 1.25;      // of the pitches of crossed rulings
constexpr double kCrossingLimit = -10.0;     // log10 of false alarms of the second one
constexpr int kMostIntegerPart = 20;         // a leader's period may hide so many divisions
constexpr double kIntegerTolerance = 0.02;
constexpr double kLeastPartOccupancy = 0.6;

// A part of the picture with rows across the graduations, and the way back.
struct WorkingView {
  cv::Mat pixels;
  ImageView view;
  cv::Point offset;
  bool transposed = false;
};

WorkingView working_view(const ImageView& image, const DirectionCandidate& candidate) {
  WorkingView work;
  work.offset = candidate.region.tl();
  const ImageView part =
      crop(image, candidate.region.x, candidate.region.y, candidate.region.width, candidate.region.height);
  work.transposed = std::abs(candidate.angle) > kPi / 4.0;
  if (!work.transposed) {
    work.view = part;
    return work;
  }
  cv::transpose(as_mat(part), work.pixels);
  work.view = part;
  work.view.data = work.pixels.data;
  work.view.width = work.pixels.cols;
  work.view.height = work.pixels.rows;
  work.view.row_bytes = static_cast<std::ptrdiff_t>(work.pixels.step);
  return work;
}

double folded(double angle) {
  while (angle > kPi / 2.0) angle -= kPi;
  while (angle <= -kPi / 2.0) angle += kPi;
  return angle;
}

double frame_angle(const WorkingView& work, double image_angle) {
  return work.transposed ? folded(kPi / 2.0 - image_angle) : image_angle;
}

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

Failure nothing_found() {
  return {"period", "no-ruling",
          "no set of parallel, evenly spaced lines was found; is the scale in view, in focus and lit?"};
}

struct Attempt {
  Ruling ruling;
  Hypothesis measured;  // the lines as measured, for a second look
  std::optional<Failure> failure;
};

// (x, y) of the frame in the whole picture.
cv::Point2d in_picture(const WorkingView& work, double x, double y) {
  if (work.transposed) std::swap(x, y);
  return {x + work.offset.x, y + work.offset.y};
}

// Lines that fan out or bow have another distance at their ends than in their middle: a quarter of that relative
// change, as a standard uncertainty (rectangular), like the change along the axis in line_fit.
double change_along(const Graduations& g) {
  double low = g.lines.front().v_low, high = g.lines.front().v_high;
  for (const MeasuredLine& line : g.lines) low = std::min(low, line.v_low), high = std::max(high, line.v_high);
  const double half_span = 0.5 * (g.lines.back().s - g.lines.front().s),
               reach = std::max(high - g.v_reference, g.v_reference - low);
  const double change =
      (2.0 * std::abs(g.bend.fan) * reach + std::abs(g.bend.bow_fan) * reach * reach) / std::max(1.0, half_span);
  return 0.25 * change / std::sqrt(12.0);
}

struct MeasuredRuling {
  Ruling ruling;
  LineFit fit;
};

MeasuredRuling make_ruling(const WorkingView& work, const Graduations& g, const Hypothesis& hypothesis) {
  MeasuredRuling result;
  Ruling& ruling = result.ruling;
  const double angle = work.transposed ? folded(kPi / 2.0 - g.angle) : g.angle;
  ruling.direction = {angle};
  ruling.direction_uncertainty = g.angle_uncertainty;
  ruling.false_alarm = std::pow(10.0, std::max(-300.0, hypothesis.lattice.log10_false_alarms));
  struct Item {
    double t;
    std::size_t line;
  };
  std::vector<Item> items;
  for (std::size_t l = 0; l < g.lines.size(); ++l) {
    if (!(g.lines[l].sigma > 0.0)) continue;
    const cv::Point2d p = in_picture(work, g.lines[l].x, g.lines[l].y);
    items.push_back({p.x * std::cos(angle) + p.y * std::sin(angle), l});
  }
  if (items.size() < 3) return result;
  if (items.back().t < items.front().t) std::reverse(items.begin(), items.end());
  const int zero = g.lines[items.front().line].index;
  std::vector<LinePoint> points;
  for (const Item& item : items) {
    const MeasuredLine& line = g.lines[item.line];
    points.push_back({std::abs(line.index - zero), item.t, line.sigma});
  }
  result.fit = fit_lines(points, g.window_freedom);
  const LineFit& fit = result.fit;
  ruling.origin_px = fit.origin;
  ruling.pitch_px = fit.pitch;
  ruling.pitch_uncertainty_px = std::hypot(fit.pitch_uncertainty, change_along(g) * fit.pitch);
  ruling.degrees_of_freedom = fit.degrees_of_freedom;
  ruling.residual_rms_px = fit.residual_rms;
  ruling.residual_max_px = fit.residual_max;
  ruling.nonlinearity = fit.nonlinearity;
  ruling.nonlinearity_max_px = fit.nonlinearity_max;
  ruling.nonlinearity_p_value = fit.nonlinearity_p_value;
  const double c = std::cos(g.angle), s = std::sin(g.angle);
  double dark = 0.0;
  for (std::size_t i = 0; i < items.size(); ++i) {
    const MeasuredLine& line = g.lines[items[i].line];
    const auto end = [&](double v) {
      const double along = v - g.v_reference;
      return in_picture(work, line.x - along * s, line.y + along * c);
    };
    const cv::Point2d a = end(line.v_low), b = end(line.v_high);
    Graduation graduation;
    graduation.index = points[i].index;
    graduation.position_px = points[i].t;
    graduation.uncertainty_px = line.sigma;
    graduation.residual_px = fit.residual[i];
    graduation.used = fit.used[i];
    graduation.x1_px = a.x, graduation.y1_px = a.y, graduation.x2_px = b.x, graduation.y2_px = b.y;
    dark += line.amplitude < 0.0 ? 1.0 : -1.0;
    if (!fit.used[i]) ruling.rejected.push_back({a.x, a.y, b.x, b.y, "outlier"});
    ruling.graduations.push_back(graduation);
  }
  const auto used = std::count(fit.used.begin(), fit.used.end(), true);
  ruling.missing = points.back().index + 1 - static_cast<int>(used);
  ruling.low_confidence = used < 5;
  ruling.dark_on_bright = dark > 0.0;
  ruling.line_width_px = g.shape.width * std::cos(g.angle);
  ruling.edge_blur_px = g.shape.blur * std::cos(g.angle);
  for (double t = -0.5 * g.period; t <= 0.5 * g.period; t += g.shape.step) {
    if (std::abs(t) >= g.shape.reach) continue;
    ruling.profile_offset_px.push_back(t * std::cos(g.angle));
    ruling.profile_value.push_back(g.shape.at(t).value);
  }
  return result;
}

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
      const cv::Point2d p = in_picture(work, t * c - v * s, t * s + v * c);
      const cv::Rect2d point(p.x, p.y, 1.0, 1.0);
      box = first ? point : box | point;
      first = false;
    }
  return cv::Rect(box) & cv::Rect(0, 0, image.width, image.height);
}

// The measured lines in the place of the edges that led to them.
Hypothesis as_hypothesis(const Graduations& g, const Hypothesis& before) {
  Hypothesis hypothesis = before;
  hypothesis.angle = g.angle;
  hypothesis.lattice.index.clear();
  hypothesis.lattice.position.clear();
  hypothesis.lattice.edge_strength.clear();
  for (const MeasuredLine& line : g.lines) {
    if (!(line.sigma > 0.0)) continue;
    if (hypothesis.lattice.index.empty()) hypothesis.v_low = line.v_low, hypothesis.v_high = line.v_high;
    hypothesis.lattice.index.push_back(line.index - g.lines.front().index);
    hypothesis.lattice.position.push_back(line.x + std::tan(g.angle) * line.y);
    hypothesis.v_low = std::max(hypothesis.v_low, line.v_low);
    hypothesis.v_high = std::min(hypothesis.v_high, line.v_high);
  }
  if (hypothesis.lattice.index.size() >= 2)
    hypothesis.lattice.pitch = (hypothesis.lattice.position.back() - hypothesis.lattice.position.front()) /
                               (hypothesis.lattice.index.back() - hypothesis.lattice.index.front());
  return hypothesis;
}

Attempt attempt(const WorkingView& work, const Hypothesis& hypothesis, double noise) {
  Attempt result;
  const Graduations g = measure_graduations(work.view, hypothesis, noise);
  if (g.lines.size() < 3) {
    result.failure =
        Failure{"graduations", "no-ruling",
                "evenly spaced edges were found, but no lines that belong to them; is this a ruled scale, in focus?"};
    return result;
  }
  MeasuredRuling measured = make_ruling(work, g, hypothesis);
  result.ruling = std::move(measured.ruling);
  result.measured = as_hypothesis(g, hypothesis);
  if (static_cast<int>(result.ruling.graduations.size()) < kLeastGraduations) {
    result.failure = Failure{"graduations", "too-few-graduations",
                             "fewer than three lines could be measured; bring more of the scale into view"};
    return result;
  }
  result.failure = implausible(work.view, g, measured.fit, noise);
  return result;
}

// Were most of the finer lines seen one by one, though too faint to be measured?
bool most_are_there(const Ruling& ruling) {
  if (ruling.graduations.size() < 10) return false;
  const double places = ruling.graduations.back().index - ruling.graduations.front().index + 1.0;
  return static_cast<double>(ruling.graduations.size()) > 0.6 * places;
}

// Makes the lines of `ruling` every `parts`-th graduation.
void count_parts(Ruling& ruling, int parts) {
  ruling.pitch_px /= parts;
  ruling.pitch_uncertainty_px /= parts;
  ruling.counted_by = parts;
  for (Graduation& graduation : ruling.graduations) graduation.index *= parts;
  const auto used =
      std::count_if(ruling.graduations.begin(), ruling.graduations.end(), [](const Graduation& g) { return g.used; });
  ruling.missing = ruling.graduations.back().index + 1 - static_cast<int>(used);
}

// With the lines measured and the direction exact, is there a finer division between them after all? If there is, it
// is the one that counts, and when it cannot be measured no factor may be given.
Attempt look_closer(const WorkingView& work, Attempt found, double noise) {
  const AlongRange range = along_range(work.view, found.measured.angle);
  const Strips strips = strips_over(work.view, found.measured.angle, search_height(range), range);
  const Hypothesis finer = finest_division(strips, found.measured);
  if (finer.lattice.pitch > 0.9 * found.measured.lattice.pitch) return found;
  Attempt closer = attempt(work, finer, noise);
  if (!closer.failure) return closer;
  const int parts = static_cast<int>(std::lround(found.measured.lattice.pitch / finer.lattice.pitch));
  if ((parts == 5 || parts == 10) && found.ruling.graduations.size() >= 10 && most_are_there(closer.ruling)) {
    count_parts(found.ruling, parts);
    return found;
  }
  found.failure = Failure{"period", "unresolved",
                          "between the lines found there are finer ones that are too faint or blurred to be measured; "
                          "use a higher magnification or a sharper picture"};
  return found;
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

Attempt nothing_yet() {
  Attempt none;
  none.failure = nothing_found();
  return none;
}

// Tries the hypotheses of one direction in one part of the picture, finest division first.
Attempt try_hypotheses(const WorkingView& work, const PeriodSearch& search, double noise, double limit) {
  Attempt best = nothing_yet();
  std::vector<double> tried;
  const auto known = [&tried](double pitch) {
    return std::any_of(tried.begin(), tried.end(), [&](double p) { return std::abs(p - pitch) < 0.01 * p; });
  };
  for (std::size_t h = 0; h < search.hypotheses.size() && tried.size() < kHypothesesTried; ++h) {
    const Hypothesis& leader = search.hypotheses[h];
    if (leader.lattice.log10_false_alarms > limit || known(leader.lattice.pitch)) continue;
    const Hypothesis& part = search.hypotheses[division_of(search.hypotheses, h)];
    for (const Hypothesis& hypothesis :
         {finest_division(search.strips, part), finest_division(search.strips, leader), leader}) {
      if (known(hypothesis.lattice.pitch)) continue;
      tried.push_back(hypothesis.lattice.pitch);
      Attempt result = attempt(work, hypothesis, noise);
      if (!result.failure) return look_closer(work, std::move(result), noise);
      if (best.failure->stage == "period") best = std::move(result);
    }
  }
  return best;
}

// Tells a hypothesis in a frame whose origin lies at `origin` of another one in that other frame.
void move(Hypothesis& hypothesis, cv::Point origin) {
  const double c = std::cos(hypothesis.angle), s = std::sin(hypothesis.angle);
  for (double& position : hypothesis.lattice.position) position += origin.x + origin.y * s / c;
  hypothesis.v_low += origin.y * c - origin.x * s;
  hypothesis.v_high += origin.y * c - origin.x * s;
}

// A scale may be finely divided in one part only: a lattice of a whole part of the pitch anywhere, if it holds up as a
// ruling of its own, is the division.
Attempt look_for_fine_part(const WorkingView& work, const PeriodSearch& search, Attempt found, double noise) {
  int tried = 0;
  for (const Hypothesis& h : search.hypotheses) {
    if (h.lattice.log10_false_alarms > kFinePartLimit || h.lattice.occupancy < kFinePartOccupancy ||
        h.lattice.index.size() < 6)
      continue;
    const double ratio = found.ruling.pitch_px / (h.lattice.pitch * std::cos(h.angle));
    const int parts = static_cast<int>(std::lround(ratio));
    if ((parts != 2 && parts != 5 && parts != 10 && parts != 20) || std::abs(ratio - parts) > kIntegerTolerance * parts)
      continue;
    Attempt finer = attempt(work, h, noise);
    if (!finer.failure) return finer;
    if (++tried == kFinePartsTried) break;
  }
  return found;
}

PeriodSearch search_all(const WorkingView& work, double image_angle, double noise) {
  const double angle = frame_angle(work, image_angle);
  return search_period(work.view, angle, noise, along_range(work.view, angle));
}

// One direction: searched over its region, then once more over the surroundings of what leads there, where the
// direction is no longer disturbed by what else the picture shows and the bands are finer.
Attempt try_direction(const ImageView& image, const DirectionCandidate& candidate, double noise, double limit) {
  const WorkingView work = working_view(image, candidate);
  const PeriodSearch search = search_all(work, candidate.angle, noise);
  Attempt result = nothing_yet();
  cv::Point origin = work.offset;
  if (!search.hypotheses.empty() && search.hypotheses.front().lattice.log10_false_alarms <= limit) {
    const Hypothesis& leader = search.hypotheses.front();
    DirectionCandidate closer = candidate;
    closer.angle = work.transposed ? folded(kPi / 2.0 - search.angle) : search.angle;
    closer.region = surroundings(work, leader, image);
    const AlongRange whole = along_range(work.view, search.angle);
    const double room = std::max(kRoomAlong * (leader.v_high - leader.v_low), kLeastRoomAlong);
    const AlongRange near{std::max(whole.low, leader.v_low - room), std::min(whole.high, leader.v_high + room)};
    if (2 * closer.region.area() < work.view.width * work.view.height && closer.region.width >= kLeastSide &&
        closer.region.height >= kLeastSide) {
      const WorkingView part = working_view(image, closer);
      result = try_hypotheses(part, search_all(part, closer.angle, noise), noise, limit);
      origin = part.offset;
    } else if (near.high - near.low < 0.5 * (whole.high - whole.low)) {
      result = try_hypotheses(work, search_period(work.view, search.angle, noise, near), noise, limit);
    }
  }
  if (result.failure) {
    result = try_hypotheses(work, search, noise, limit);
    origin = work.offset;
  }
  if (result.failure || result.ruling.counted_by > 1) return result;
  // The finer lines may lie outside the part that was searched.
  DirectionCandidate everywhere = candidate;
  everywhere.region = cv::Rect(0, 0, image.width, image.height);
  const WorkingView whole = working_view(image, everywhere);
  move(result.measured, whole.transposed ? cv::Point(origin.y, origin.x) : origin);
  result = look_closer(whole, std::move(result), noise);
  return result.failure ? result : look_for_fine_part(work, search, std::move(result), noise);
}

// A second ruling across the first, of about the same division: crossed scales and grids.
std::optional<Ruling> find_crossing(const ImageView& image, const std::vector<DirectionCandidate>& candidates,
                                    const Ruling& first, double noise, double limit) {
  for (std::size_t c = 0; c < std::min(candidates.size(), kDirectionsTried); ++c) {
    const double turn = std::abs(folded(candidates[c].angle - first.direction.value - kPi / 2.0));
    if (turn > kCrossingTolerance) continue;
    Attempt result = try_direction(image, candidates[c], noise, std::min(limit, kCrossingLimit));
    if (result.failure || result.ruling.low_confidence) continue;
    const double ratio = result.ruling.pitch_px / first.pitch_px;
    const double crossing = std::abs(folded(result.ruling.direction.value - first.direction.value - kPi / 2.0));
    if (ratio < 1.0 / kCrossingRatio || ratio > kCrossingRatio || crossing > kCrossingTolerance) continue;
    return result.ruling;
  }
  return std::nullopt;
}

}  // namespace

Reading find_rulings(const ImageView& image, const RulingOptions& options) {
  if (image.data == nullptr || image.width < 1 || image.height < 1)
    throw std::invalid_argument("find_rulings: an image with pixels is needed");
  if (!(options.false_alarm_limit > 0.0))
    throw std::invalid_argument("find_rulings: false_alarm_limit must be positive");
  Reading reading;
  reading.width = image.width;
  reading.height = image.height;
  if (image.width < kLeastSide || image.height < kLeastSide) {
    reading.failure = Failure{"frame", "too-small", "the picture is smaller than 24 x 24 pixels"};
    return reading;
  }
  if (!within_range(image)) {
    reading.failure = Failure{"frame", "no-ruling",
                              "the picture holds samples that are not finite or beyond 1e9; scale its values down"};
    return reading;
  }
  const FrameStatistics statistics = frame_statistics(image);
  reading.noise = statistics.noise;
  reading.saturated_share = statistics.saturated_share;
  const std::vector<DirectionCandidate> candidates = candidate_directions(image, statistics.noise);
  const double limit = std::log10(options.false_alarm_limit);
  Attempt best = nothing_yet();
  for (std::size_t c = 0; c < std::min(candidates.size(), kDirectionsTried) && reading.rulings.empty(); ++c) {
    reading.directions_tried_deg.push_back(degrees({candidates[c].angle}));
    Attempt result = try_direction(image, candidates[c], statistics.noise, limit);
    if (result.failure) {
      if (best.failure->stage == "period") best = std::move(result);
      continue;
    }
    reading.rulings.push_back(std::move(result.ruling));
  }
  if (reading.rulings.empty()) {
    reading.failure = best.failure;
    reading.lines_seen = seen_lines(best.ruling);
    return reading;
  }
  if (auto crossing = find_crossing(image, candidates, reading.rulings.front(), statistics.noise, limit))
    reading.rulings.push_back(std::move(*crossing));
  for (const Ruling& ruling : reading.rulings)
    if (ruling.counted_by > 1)
      reading.warnings.push_back(
          {"coarse-lines-only", "the finest lines are too faint to be measured one by one; the factor rests on every " +
                                    std::to_string(ruling.counted_by) + "th line"});
  return reading;
}

}  // namespace scale
