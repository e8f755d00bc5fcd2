#include "ruling/comb_pair.h"

#include <algorithm>
#include <cmath>

#include <scale/units.h>

#include "image/frame.h"
#include "ruling/comb_block.h"
#include "ruling/comb_spectrum.h"
#include "ruling/direction.h"
#include "ruling/extent.h"
#include "ruling/period.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

constexpr std::size_t kFirstTried = 3;                      // pieces from which a pair is begun
constexpr std::size_t kPiecesTried = 6;                     // as the other one
constexpr std::size_t kDirectionsTried = 4;                 // that stand out of what is left
constexpr std::size_t kHypotheses = 3;                      // of each direction
constexpr double kNearDirections[] = {0.0, 0.035, -0.035};  // radians from the first: a search is good to 0.026
constexpr double kPromising = -4.0;                         // log10 of false alarms: more is no lattice
constexpr double kOneFamily = 0.008;                        // relative, and radians
constexpr int kTimesTried = 2;
constexpr double kSlip = 1.0, kSlipOfMultiple = 0.5;  // divisions over what both show
constexpr double kSquare = 0.02;                      // radians off a right angle
constexpr int kRounds = 3;                            // each with the other one taken out
constexpr double kMostLeft = 0.4;                     // of the variance among the lines, noise left out (judgement)
constexpr double kThird = 0.15;                       // of the fainter one's depth: less is what was not taken out well
constexpr double kLevel = 0.6;                        // of white: the ground of what is left, as a picture

cv::Mat as_picture(const Light& light, double white) {
  cv::Mat picture = light.share * (kLevel * white);
  return cv::min(picture, white);
}

double noise_of(const Light& light) { return frame_statistics(as_view(light.share, 1.0)).noise; }

// A hypothesis of the frame in the picture.
CombStart start_of(const WorkingView& work, const Hypothesis& hypothesis) {
  const double c = std::cos(hypothesis.angle), s = std::sin(hypothesis.angle);
  CombStart start;
  start.direction = work.turned(hypothesis.angle);
  const double pc = std::cos(start.direction), ps = std::sin(start.direction);
  const auto v_of = [&](double t, double v) {
    const cv::Point2d p = work.in_picture(t * c - v * s, t * s + v * c);
    return p.y * pc - p.x * ps;
  };
  const double t0 = hypothesis.lattice.position.front() * c;
  const double a = v_of(t0, hypothesis.v_low), b = v_of(t0, hypothesis.v_high);
  start.v_low = std::min(a, b), start.v_high = std::max(a, b);
  const double v = 0.5 * (hypothesis.v_low + hypothesis.v_high);
  for (std::size_t i = 0; i < hypothesis.lattice.index.size(); ++i) {
    const double t = hypothesis.lattice.position[i] * c;
    const cv::Point2d p = work.in_picture(t * c - v * s, t * s + v * c);
    start.index.push_back(hypothesis.lattice.index[i]);
    start.t.push_back(p.x * pc + p.y * ps);
  }
  if (start.t.back() < start.t.front()) {
    std::reverse(start.t.begin(), start.t.end()), std::reverse(start.index.begin(), start.index.end());
    for (int& index : start.index) index = -index;
  }
  return start;
}

// Lattices of edges in what is left, in directions near the first scale's and in those that stand out; best first.
std::vector<CombStart> starts_in(const Light& rest, double white, double near) {
  const cv::Mat picture = as_picture(rest, white);
  const ImageView image = as_view(picture, white);
  const FrameStatistics statistics = frame_statistics(image);
  const double noise = std::max(statistics.noise, 1e-3 * white);
  std::vector<double> directions;
  for (const double by : kNearDirections) directions.push_back(folded(near + by));
  Pictures pictures(image);
  for (const DirectionCandidate& candidate : candidate_directions(pictures, noise, statistics.high - statistics.low)) {
    if (directions.size() >= std::size(kNearDirections) + kDirectionsTried) break;
    const bool known = std::any_of(directions.begin(), directions.end(), [&](double direction) {
      return std::abs(folded(direction - candidate.angle)) < 0.02;
    });
    if (candidate.seen && !known) directions.push_back(candidate.angle);
  }
  struct Ranked {
    double log10_false_alarms;
    CombStart start;
  };
  std::vector<Ranked> found;
  for (const double direction : directions) {
    const WorkingView work = pictures.view(pictures.everything(), direction);
    const double angle = work.turned(direction);
    PeriodSearch search = search_period(work, angle, noise, along_range(work.view, angle));
    search_deeper(search);
    for (std::size_t i = 0; i < std::min(kHypotheses, search.hypotheses.size()); ++i)
      if (search.hypotheses[i].lattice.log10_false_alarms <= kPromising)
        found.push_back({search.hypotheses[i].lattice.log10_false_alarms, start_of(work, search.hypotheses[i])});
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const Ranked& a, const Ranked& b) { return a.log10_false_alarms < b.log10_false_alarms; });
  std::vector<CombStart> starts;
  for (Ranked& one : found) starts.push_back(std::move(one.start));
  return starts;
}

double pitch_of(const CombStart& start) {
  return (start.t.back() - start.t.front()) / (start.index.back() - start.index.front());
}

// Lines of one direction and pitch that were tried, whole multiples of the pitch being the same lines.
struct Family {
  double pitch, direction;
  int times = 0;
  bool has(const CombStart& start) const {
    const double ratio = pitch_of(start) / pitch, whole = std::max(1.0, std::round(ratio));
    return std::abs(ratio / whole - 1.0) < kOneFamily && std::abs(folded(direction - start.direction)) < kOneFamily;
  }
};

bool tried_enough(const std::vector<Family>& families, const CombStart& start) {
  return std::any_of(families.begin(), families.end(),
                     [&](const Family& one) { return one.has(start) && one.times >= kTimesTried; });
}

void note(std::vector<Family>& families, const Comb& comb) {
  for (Family& one : families)
    if (std::abs(comb.pitch() / one.pitch - 1.0) < kOneFamily &&
        std::abs(folded(comb.direction - one.direction)) < kOneFamily) {
      ++one.times;
      return;
    }
  families.push_back({comb.pitch(), comb.direction, 1});
}

cv::Point2d place_of(const Comb& comb, double index) {
  const double t = comb.at(index), c = std::cos(comb.direction), s = std::sin(comb.direction);
  return {t * c - comb.v0 * s, t * s + comb.v0 * c};
}

// The index of the comb's line, in parts of a division, that would go through the point.
double index_at(const Comb& comb, const cv::Point2d& at) {
  const double c = std::cos(comb.direction), s = std::sin(comb.direction);
  const double t = at.x * c + at.y * s, v = at.y * c - at.x * s;
  double index = comb.middle;
  // Newton's steps; the places are all but straight in the index.
  for (int step = 0; step < 4; ++step) index += (t - comb.at(index) - comb.slope(index) * (v - comb.v0)) / comb.pitch();
  return index;
}

// Do the lines of both go in step where both are seen, as those of one scale with long and short lines do? Then they
// are one, for all that can be told: lines of one pitch must slip by a whole division, lines of a multiple by half of
// the finer one, or they must lean so much that each crosses from one line to the next. Perspective may bend both, so
// the slip is that of the lines themselves.
bool in_step(const Comb& a, const Comb& b) {
  const Comb& fine = a.pitch() <= b.pitch() ? a : b;
  const Comb& coarse = a.pitch() <= b.pitch() ? b : a;
  const double lean = std::abs(folded(a.direction - std::atan(a.lean) - b.direction + std::atan(b.lean)));
  const double length = std::min(a.v_high - a.v_low, b.v_high - b.v_low);
  if (lean * length > fine.pitch()) return false;
  const double whole = std::round(coarse.pitch() / fine.pitch());
  const double way = std::cos(a.direction - b.direction) < 0.0 ? -1.0 : 1.0;
  double least = 1e9, most = -1e9;
  for (const CombLine& line : coarse.lines) {
    const double index = index_at(fine, place_of(coarse, line.index));
    if (index < fine.lines.front().index || index > fine.lines.back().index) continue;
    const double off = index - way * whole * line.index;
    least = std::min(least, off), most = std::max(most, off);
  }
  return most - least < (whole == 1.0 ? kSlip : kSlipOfMultiple);
}

Extent extent_of(const Comb& comb) {
  return {comb.direction, comb.pitch(), comb.v_high - comb.v_low, place_of(comb, comb.lines.front().index),
          place_of(comb, comb.lines.back().index)};
}

// Lines of one pitch at right angles are a grid.
bool make_a_grid(const Comb& a, const Comb& b) {
  const double lean = std::abs(folded(a.direction - std::atan(a.lean) - b.direction + std::atan(b.lean)));
  return std::abs(lean - kPi / 2.0) < kSquare && std::abs(a.pitch() / b.pitch() - 1.0) < kOneFamily;
}

bool are_one(const Comb& a, const Comb& b) {
  return in_step(a, b) || follow_each_other(extent_of(a), extent_of(b)) || make_a_grid(a, b);
}

std::optional<Comb> settled(const Light& light, const CombStart& start) {
  auto comb = fit_comb(light, start);
  return comb ? finest_comb(light, std::move(*comb)) : std::nullopt;
}

class Pairing {
 public:
  Pairing(const cv::Mat& picture, double white, bool dark, const std::vector<Ruling>& pieces)
      : white_(white), pieces_(pieces), dark_(dark), light_(light_of(picture, dark)), noise_(noise_of(light_)) {}

  std::optional<CombPair> from_pieces() const {
    std::vector<Family> firsts;
    for (std::size_t i = 0; i < pieces_.size() && firsts.size() < kFirstTried; ++i) {
      const CombStart own = scale::start_of(pieces_[i]);
      if (tried_enough(firsts, own)) continue;
      const auto first = settled(light_, own);
      if (!first) continue;
      note(firsts, *first);
      if (auto pair = with_another(*first, i)) return pair;
    }
    return std::nullopt;
  }

  // Two of what the spectrum shows.
  std::optional<CombPair> by_spectrum() const {
    std::vector<Family> firsts;
    for (const CombStart& own : starts_by_spectrum(light_, dark_)) {
      if (firsts.size() == kFirstTried) break;
      if (tried_enough(firsts, own)) continue;
      const auto first = settled(light_, own);
      if (!first) continue;
      note(firsts, *first);
      const Light rest = without(light_, *first);
      std::vector<Family> seconds;
      // Of what is left, since two peaks may overlap.
      if (auto pair = with_one_of(starts_by_spectrum(rest, dark_), rest, *first, seconds)) return pair;
    }
    return std::nullopt;
  }

 private:
  // The first one in what is left of the light that makes a pair with `first`. `seconds`: what was tried.
  std::optional<CombPair> with_one_of(const std::vector<CombStart>& starts, const Light& rest, const Comb& first,
                                      std::vector<Family>& seconds) const {
    for (const CombStart& start : starts) {
      if (tried_enough(seconds, start)) continue;
      auto second = settled(rest, start);
      if (!second) continue;
      note(seconds, *second);
      if (auto pair = both(first, std::move(*second))) return pair;
    }
    return std::nullopt;
  }

  std::optional<CombPair> with_another(const Comb& first, std::size_t piece) const {
    const Light rest = without(light_, first);
    std::vector<CombStart> starts;
    for (std::size_t k = 0; k < std::min(kPiecesTried, pieces_.size()); ++k)
      if (k != piece) starts.push_back(scale::start_of(pieces_[k]));
    std::vector<Family> seconds;
    for (const bool search : {false, true}) {
      if (search) starts = starts_in(rest, white_, first.direction);
      if (auto pair = with_one_of(starts, rest, first, seconds)) return pair;
    }
    return std::nullopt;
  }

  std::optional<CombPair> both(Comb first, Comb second) const {
    if (are_one(first, second)) return std::nullopt;
    Light of_second;
    for (int round = 0; round < kRounds; ++round) {
      auto one = refit_comb(without(light_, second), first);
      if (!one) return std::nullopt;
      first = std::move(*one);
      of_second = without(light_, first);
      auto two = refit_comb(of_second, second);
      if (!two) return std::nullopt;
      second = std::move(*two);
    }
    if (!believable(first) || !believable(second) || are_one(first, second)) return std::nullopt;
    const Light of_first = without(light_, second), ground = without(of_second, second);
    if (left_over(of_first, ground, first, noise_) > kMostLeft ||
        left_over(of_second, ground, second, noise_) > kMostLeft)
      return std::nullopt;
    if (sticks_out_of_block(of_first, first) || sticks_out_of_block(of_second, second)) return std::nullopt;
    return CombPair{{as_ruling(first), as_ruling(second)},
                    {as_seen(of_first), as_seen(of_second)},
                    as_picture(ground, white_),
                    third(ground, first, second)};
  }

  // With the dark round the field, so that a scale is not taken to end there.
  cv::Mat as_seen(const Light& light) const {
    cv::Mat picture = as_picture(light, white_);
    picture.setTo(0.0, light_.trust == 0.0);
    return picture;
  }

  // Does yet another scale stand in what is left, from a piece or by the spectrum?
  bool third(const Light& ground, const Comb& first, const Comb& second) const {
    std::vector<CombStart> starts = starts_by_spectrum(ground, dark_, Window::level);
    for (const Ruling& piece : pieces_) starts.push_back(scale::start_of(piece));
    const double least = kThird * std::min(std::abs(first.depth), std::abs(second.depth));
    return std::any_of(starts.begin(), starts.end(), [&](const CombStart& start) {
      const auto comb = fit_comb(ground, start);
      return comb && believable(*comb) && std::abs(comb->depth) > least;
    });
  }

  double white_;
  std::vector<Ruling> pieces_;
  bool dark_;
  Light light_;
  double noise_;
};

}  // namespace

std::optional<CombPair> find_comb_pair_by_spectrum(const cv::Mat& picture, double white, bool dark) {
  return Pairing(picture, white, dark, {}).by_spectrum();
}

std::optional<CombPair> find_comb_pair(const cv::Mat& picture, double white, const std::vector<Ruling>& pieces) {
  if (pieces.empty()) return std::nullopt;
  return Pairing(picture, white, pieces.front().dark_on_bright, pieces).from_pieces();
}

}  // namespace scale
