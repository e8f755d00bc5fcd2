#include "ruling/scale_views.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "ruling/scale_ends.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

// Judgement, all of it; checked by the accuracy suite.
constexpr double kOneDirection = 0.03;     // radians: parts of one scale lean against each other by less
constexpr double kOnePitch = 0.06;         // relative: what perspective changes between neighbouring parts
constexpr double kOneDirectionFar = 0.05;  // the same between parts that follow each other along the scale
constexpr double kOnePitchFar = 0.1;
constexpr int kMostMultiple = 20;     // of the pitch, where only long lines were seen
constexpr double kOnLine = 0.25;      // divisions of the finer view
constexpr double kInStep = 0.8;       // 1: all lines at one place of the division, 0: anywhere
constexpr double kMostDrift = 0.008;  // per division, by perspective; pitches that differ more are of two scales
constexpr int kEndLines = 6;          // divisions at the end of a view, for its pitch there
constexpr double kEndPitch = 0.012;   // relative: pitches of one scale where views follow each other
constexpr double kShortBreak = 15.0;  // divisions over which lines can still be counted
constexpr double kSameStep = 0.95, kSamePlace = 0.1, kSamePitch = 0.0015;  // of views of one lattice; as above
constexpr double kSameFit = 0.01, kSamePlaceFitted = 0.2;                  // radians; divisions, over a whole piece
constexpr std::size_t kFragment = 15;                                      // lines
constexpr std::size_t kLeastCompared = 4;                                  // lines
constexpr double kGap = 2.0;  // of a line's length: a line may be seen again after so much
constexpr double kAnyGap = 1e6;
constexpr double kContinuous = 0.3;  // of a line's contrast: so much of it is left where it goes on
constexpr int kBlock = 6;            // pixels along a line that are taken together, for noise
constexpr double kMostGoOn = 0.6;    // of the lines compared

struct Along {
  double t, low, high;  // place on the axis, and from where to where along the line
};

Along along(const Graduation& line, double c, double s) {
  const cv::Point2d middle = middle_of(line);
  const double v1 = line.y1_px * c - line.x1_px * s, v2 = line.y2_px * c - line.x2_px * s;
  return {middle.x * c + middle.y * s, std::min(v1, v2), std::max(v1, v2)};
}

std::vector<Along> along(const std::vector<Graduation>& graduations, double direction) {
  std::vector<Along> lines;
  for (const Graduation& line : graduations) lines.push_back(along(line, std::cos(direction), std::sin(direction)));
  return lines;
}

// The views' axes, and the picture they were seen in.
struct Axes {
  const cv::Mat& picture;
  double direction, pitch;

  // By how much a point is darker than both sides of it, half a division away.
  double depth(double t, double v) const {
    const double c = std::cos(direction), s = std::sin(direction);
    const auto at = [&](double shift) {
      return grey_at(picture, (t + shift) * c - v * s, (t + shift) * s + v * c, direction);
    };
    return 0.5 * (at(-0.5 * pitch) + at(0.5 * pitch)) - at(0.0);
  }

  // Does the line `a` go on to the line `b`, unbroken?
  bool goes_on(const Along& a, const Along& b) const {
    const bool forward = b.low > a.high;
    const double from = forward ? a.high : a.low, to = forward ? b.low : b.high, way = forward ? 1.0 : -1.0;
    const double seen =
        std::min(std::abs(depth(a.t, 0.5 * (a.low + a.high))), std::abs(depth(b.t, 0.5 * (b.low + b.high))));
    const double sign = depth(a.t, 0.5 * (a.low + a.high)) < 0.0 ? -1.0 : 1.0;
    double sum = 0.0;
    int pixels = 0;
    for (double v = from; way * (to - v) > 0.0; v += way) {
      sum += sign * depth(a.t + (b.t - a.t) * (v - from) / (to - from), v);
      if (++pixels < kBlock) continue;
      if (sum < kContinuous * seen * pixels) return false;
      sum = 0.0, pixels = 0;
    }
    return sum >= kContinuous * seen * pixels;
  }
};

// How the lines of one view lie about those of another.
struct Compared {
  std::size_t of = 0, beside = 0, going_on = 0;  // lines that could be compared, lie beside the other's or go on
  std::vector<double> place, offset;             // of each from the nearest of the other, divisions

  // Where in the division they lie, and how closely together (1: all at one place) but for their drift per division.
  struct Step {
    double closeness, offset, drift;
    // No two scales lie so by chance.
    bool same_lattice() const {
      return closeness > kSameStep && std::abs(offset) < kSamePlace && std::abs(drift) < kSamePitch;
    }
  };
  Step step() const {
    const double n = static_cast<double>(of);
    double x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
    for (std::size_t i = 0; i < of; ++i) x += place[i] / n, y += offset[i] / n;
    for (std::size_t i = 0; i < of; ++i) {
      xx += (place[i] - x) * (place[i] - x);
      xy += (place[i] - x) * (offset[i] - y);
    }
    const double slope = xx > 0.0 ? xy / xx : 0.0;
    double c = 0.0, s = 0.0;
    for (std::size_t i = 0; i < of; ++i) {
      const double turn = 2.0 * std::numbers::pi * (offset[i] - slope * (place[i] - x));
      c += std::cos(turn), s += std::sin(turn);
    }
    return {std::hypot(c, s) / n, std::atan2(s, c) / (2.0 * std::numbers::pi), slope};
  }
};

Compared compare(const Axes& axes, const std::vector<Along>& fine, const std::vector<Along>& coarse,
                 double gap = kGap) {
  Compared result;
  for (const Along& own : coarse) {
    const auto nearest = std::min_element(fine.begin(), fine.end(), [&](const Along& a, const Along& b) {
      return std::abs(a.t - own.t) < std::abs(b.t - own.t);
    });
    const double offset = (own.t - nearest->t) / axes.pitch;
    // A line that was missed between its neighbours says nothing.
    if (std::abs(offset) > 0.6) continue;
    const double room = gap * std::max(own.high - own.low, nearest->high - nearest->low);
    if (own.low > nearest->high + room || own.high < nearest->low - room) continue;
    ++result.of;
    if (own.low < nearest->high && own.high > nearest->low)
      ++result.beside;
    else if (axes.goes_on(*nearest, own))
      ++result.going_on;
    // Told from the neighbour's, so that places half-way between lines do not jump to and fro.
    const double before = result.offset.empty() ? 0.0 : result.offset.back();
    result.place.push_back(own.t / axes.pitch);
    result.offset.push_back(offset + std::round(before - offset));
  }
  return result;
}

// The end of a view that lies towards `t`: the last line there, and the pitch of the last few.
struct End {
  Along line;
  double pitch;
};

End end_towards(const Ruling& ruling, const std::vector<Along>& lines, double t) {
  const bool last = std::abs(lines.back().t - t) < std::abs(lines.front().t - t);
  const std::size_t n = lines.size(), end = last ? n - 1 : 0;
  const auto index = [&](std::size_t i) { return ruling.graduations[i].index; };
  std::size_t inner = end;
  while (std::abs(index(inner) - index(end)) < kEndLines && inner != (last ? 0 : n - 1)) inner += last ? -1UL : 1UL;
  return {lines[end], std::abs((lines[end].t - lines[inner].t) / (index(end) - index(inner)))};
}

// Do two views lie in one strip, one after the other, with pitches that fit where they meet?
bool follow_each_other(const Ruling& a, const std::vector<Along>& of_a, const Ruling& b,
                       const std::vector<Along>& of_b) {
  const auto middle = [](const std::vector<Along>& lines) { return 0.5 * (lines.front().t + lines.back().t); };
  const End one = end_towards(a, of_a, middle(of_b)), other = end_towards(b, of_b, middle(of_a));
  const double way = middle(of_b) > middle(of_a) ? 1.0 : -1.0, pitch = 0.5 * (one.pitch + other.pitch);
  const double divisions = way * (other.line.t - one.line.t) / pitch;
  if (divisions < -static_cast<double>(kLeastCompared) || std::abs(one.pitch / other.pitch - 1.0) > kEndPitch)
    return false;
  if (divisions < kShortBreak && std::abs(divisions - std::round(divisions)) > kOnLine) return false;
  const double beside = std::min(one.line.high, other.line.high) - std::max(one.line.low, other.line.low);
  return beside > -std::max(one.line.high - one.line.low, other.line.high - other.line.low);
}

// Lines of the coarser one on places of the finer one, wherever along the lines: long lines that end far off look so.
bool on_one_lattice(const cv::Mat& picture, const Ruling& a, const Ruling& b) {
  const Ruling& fine = a.pitch_px <= b.pitch_px ? a : b;
  const Ruling& coarse = a.pitch_px <= b.pitch_px ? b : a;
  const double ratio = coarse.pitch_px / fine.pitch_px, whole = std::round(ratio);
  if (whole < 2.0 || std::abs(ratio - whole) > kOnePitch * ratio) return false;
  const double direction = fine.direction.value;
  const Compared compared = compare({picture, direction, fine.pitch_px}, along(fine.graduations, direction),
                                    along(coarse.graduations, direction), kAnyGap);
  if (2 * compared.of < coarse.graduations.size()) return false;
  const Compared::Step step = compared.step();
  return step.closeness > kInStep && std::abs(step.offset) < kOnLine && std::abs(step.drift) < kMostDrift;
}

// By how much the pitches of pieces of one scale may differ: more where the lines' fan shows that the pitch grows.
double same_pitch(const Ruling& a, const Ruling& b) {
  const auto v = [&a](const Ruling& ruling) {
    const cv::Point2d middle = middle_of(ruling.graduations[ruling.graduations.size() / 2]);
    return middle.y * std::cos(a.direction.value) - middle.x * std::sin(a.direction.value);
  };
  const auto growth = [](const Ruling& ruling) {
    return std::abs(ruling.pitch_growth_per_px) + 2.0 * ruling.pitch_growth_uncertainty;
  };
  return kSamePitch + std::abs(v(a) - v(b)) * std::max(growth(a), growth(b));
}

// Pieces of one scale that another one cuts apart, by the fits alone: one direction, one pitch, lines in line. Two
// scales that agree so well could not be told from them.
bool one_lattice_as_fitted(const Ruling& a, const Ruling& b) {
  if (std::abs(folded(a.direction.value - b.direction.value)) > kSameFit ||
      std::abs(b.pitch_px / a.pitch_px - 1.0) > same_pitch(a, b))
    return false;
  const cv::Point2d middle = middle_of(b.graduations[b.graduations.size() / 2]);
  const double t = middle.x * std::cos(a.direction.value) + middle.y * std::sin(a.direction.value);
  const double place = (t - a.origin_px) / a.pitch_px;
  return std::abs(place - std::round(place)) < kSamePlaceFitted;
}

double weight_of(const Ruling& ruling) {
  double length = 0.0;
  for (const Graduation& line : ruling.graduations) length += line.used ? length_of(line) : 0.0;
  return length;
}

bool better(const Ruling& a, const Ruling& b) {
  if (a.pitch_px < 0.6 * b.pitch_px) return true;
  if (b.pitch_px < 0.6 * a.pitch_px) return false;
  if (a.counted_by != b.counted_by) return a.counted_by < b.counted_by;
  if (a.graduations.size() != b.graduations.size()) return a.graduations.size() > b.graduations.size();
  return weight_of(a) > weight_of(b);
}

}  // namespace

cv::Point2d middle_of(const Graduation& line) {
  return {0.5 * (line.x1_px + line.x2_px), 0.5 * (line.y1_px + line.y2_px)};
}

double length_of(const Graduation& line) { return std::hypot(line.x2_px - line.x1_px, line.y2_px - line.y1_px); }

int common_step(const Ruling& ruling) {
  int step = 0;
  for (const Graduation& line : ruling.graduations)
    step = std::gcd(step, line.index - ruling.graduations.front().index);
  return std::max(step, 1);
}

bool one_scale(const cv::Mat& picture, const Ruling& a, const Ruling& b) {
  const Ruling& fine = a.pitch_px <= b.pitch_px ? a : b;
  const Ruling& coarse = a.pitch_px <= b.pitch_px ? b : a;
  const double lean = std::abs(folded(a.direction.value - b.direction.value));
  if (lean > kOneDirectionFar) return false;
  const double ratio = coarse.pitch_px / fine.pitch_px, whole = std::round(ratio),
               off = std::abs(ratio - whole) / ratio;
  if (whole > kMostMultiple) return false;
  const std::vector<Along> lines = along(fine.graduations, fine.direction.value),
                           others = along(coarse.graduations, fine.direction.value);
  if (whole == 1.0 && off < kOnePitchFar && follow_each_other(fine, lines, coarse, others)) return true;
  if (lean > kOneDirection || off > kOnePitch) return false;
  const Axes axes{picture, fine.direction.value, fine.pitch_px};
  const Compared compared = compare(axes, lines, others);
  if (compared.of < std::min(kLeastCompared, others.size())) return false;
  const Compared::Step step = compared.step();
  if (step.closeness < kInStep || std::abs(step.drift) > kMostDrift) return false;
  // Spaces as wide as lines may be taken for them: lines side by side in step are of one scale, wherever they lie.
  if (2 * compared.beside > compared.of || (whole == 1.0 && step.same_lattice())) return true;
  return std::abs(step.offset)<kOnLine&& static_cast<double>(compared.going_on + compared.beside)> kMostGoOn *
         static_cast<double>(compared.of);
}

bool resolvable(const cv::Mat& picture, const Ruling& a, const Ruling& b) {
  if (one_lattice_as_fitted(a, b)) return false;
  if (std::abs(folded(a.direction.value - b.direction.value)) > kOneDirectionFar) return true;
  if (on_one_lattice(picture, a, b)) return false;
  const Compared compared = compare({picture, a.direction.value, a.pitch_px}, along(a.graduations, a.direction.value),
                                    along(b.graduations, a.direction.value));
  if (compared.beside < kLeastCompared) return true;
  const auto span = [](const Ruling& ruling) {
    return ruling.graduations.back().position_px - ruling.graduations.front().position_px;
  };
  return std::abs(1.0 / a.pitch_px - 1.0 / b.pitch_px) * std::min(span(a), span(b)) > 1.0;
}

void Scales::add(ScaleView view) {
  // A view may join two that were apart.
  for (std::size_t i = 0; i < best_.size();) {
    if (!one_scale(picture_, best_[i].ruling, view.ruling)) {
      ++i;
      continue;
    }
    if (better(best_[i].ruling, view.ruling)) view = std::move(best_[i]);
    best_.erase(best_.begin() + static_cast<std::ptrdiff_t>(i));
    i = 0;
  }
  const auto place = std::find_if(best_.begin(), best_.end(), [&](const ScaleView& known) {
    return known.ruling.graduations.size() < view.ruling.graduations.size();
  });
  best_.insert(place, std::move(view));
}

void Scales::drop_fragments() {
  if (best_.size() < 3) return;
  const std::size_t second = best_[1].ruling.graduations.size();
  while (best_.size() > 2 && best_.back().ruling.graduations.size() < std::min(kFragment, second / 4)) best_.pop_back();
}

}  // namespace scale
