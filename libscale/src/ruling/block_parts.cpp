#include "ruling/block_parts.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <Eigen/Dense>

#include <scale/units.h>

#include "ruling/division.h"

namespace scale {

namespace {

// The limits below are judgements, checked on rendered scales of all blurs from plain to lost.
constexpr int kFewestWaves = 2, kMostWaves = 12;
constexpr std::array kParts{5, 10};      // what scales are divided into
constexpr double kStripHeight = 4.0;     // pixels
constexpr std::size_t kLeastSpaces = 8;  // whose scatter tells
constexpr double kLeastEvidence = 4.5;   // standard errors of the wave
constexpr double kMostLeft = 0.3;        // of what any other wave leaves
constexpr double kLeastInk = 0.4,
                 kMostInk = 1.3;  // of the number of parts: the lines are about as wide as the long ones
// The same of one line in every space, which a block of more is darker than.
constexpr double kLeastInkOfTwo = 1.2, kMostInkOfTwo = 2.6;
constexpr double kLeastOfHalves = 8.0;  // standard errors of two waves from line to line,
constexpr double kInPhase = 0.9;        // of them in phase with the lines,
constexpr double kMostAlone = 0.5;      // of them over one wave, where the lines are alone
constexpr double kMostOthers = 3.0;     // times what one and three waves bring
constexpr double kLeastSeen = 0.3;      // of a space, clear of the lines at its ends
constexpr int kFanSteps = 5;            // to half a part either way
constexpr double kRounding = 1e-6;      // grey values squared, of a scatter that is none

// One space between neighbouring lines, clear of both: means over the strips at even places, as a part of the space.
using Space = Eigen::VectorXd;

struct Places {
  double from = 0.0;  // of the space
  int count = 0;
  double at(int i) const { return from + (1.0 - 2.0 * from) * i / (count - 1); }
};

Places places_of(const Graduations& g) {
  const double from = (0.5 * g.shape.width + g.shape.blur) / g.period;
  return {from, std::clamp(static_cast<int>(2.0 * g.period), 12, 200)};
}

std::optional<double> value_at(const Strips& strips, int strip, double s) {
  const double place = s - strips.first;
  const int bin = static_cast<int>(std::floor(place));
  if (bin < 0 || bin + 1 >= strips.bins) return std::nullopt;
  const std::size_t at = strips.at(strip, 0) + static_cast<std::size_t>(bin);
  if (std::min(strips.count[at], strips.count[at + 1]) < 1.0F) return std::nullopt;
  const double f = place - bin;
  return (1.0 - f) * static_cast<double>(strips.mean[at]) + f * static_cast<double>(strips.mean[at + 1]);
}

// `fanned`: bins by which the last line lies further from the middle one than the measured lines say; they were
// measured beside the block, and how they fan out is known there only.
std::vector<Space> spaces_of(const Graduations& g, const Strips& strips, const Places& places, double fanned = 0.0) {
  std::vector<Space> spaces;
  for (std::size_t l = 0; l + 1 < g.lines.size(); ++l) {
    if (g.lines[l + 1].index - g.lines[l].index != 1) continue;
    Space space = Space::Zero(places.count);
    bool whole = true;
    for (int k = 0; k < strips.layout.count && whole; ++k) {
      const double from = g.centre_at(l, strips.v_centre(k)) + fanned * g.z_of(l),
                   to = g.centre_at(l + 1, strips.v_centre(k)) + fanned * g.z_of(l + 1);
      for (int i = 0; i < places.count && whole; ++i) {
        const auto value = value_at(strips, k, from + places.at(i) * (to - from));
        whole = value.has_value();
        if (whole) space[i] += *value / strips.layout.count;
      }
    }
    if (whole) spaces.push_back(std::move(space));
  }
  return spaces;
}

// A wave of so many periods in every space, over a ground that may bend.
struct Wave {
  double left = 0.0;      // root mean square of what it leaves of the mean space, grey values
  double evidence = 0.0;  // its amplitude over the standard error of that, from the scatter of the spaces
};

Wave wave_of(const std::vector<Space>& spaces, const Places& places, int periods) {
  Eigen::MatrixXd design(places.count, 5);
  for (int i = 0; i < places.count; ++i) {
    const double at = places.at(i), phase = 2.0 * kPi * periods * at;
    design.row(i) << 1.0, at, at * at, std::cos(phase), std::sin(phase);
  }
  const auto solver = design.colPivHouseholderQr();
  const double n = static_cast<double>(spaces.size());
  Space mean = Space::Zero(places.count);
  Eigen::Vector2d sum = Eigen::Vector2d::Zero();
  double squares = 0.0;
  for (const Space& space : spaces) {
    const Eigen::Vector2d wave = solver.solve(space).tail<2>();
    mean += space / n;
    sum += wave;
    squares += wave.squaredNorm();
  }
  const double scatter = std::max(squares / n - (sum / n).squaredNorm(), kRounding);
  return {(mean - design * solver.solve(mean)).norm() / std::sqrt(static_cast<double>(places.count)),
          (sum / n).norm() / std::sqrt(scatter / (n - 1.0))};
}

// The spaces, fanned out as the wave says.
std::vector<Space> best_spaces(const Graduations& g, const Strips& strips, const Places& places, int periods) {
  std::vector<Space> best;
  double most = -1.0;
  for (int step = -kFanSteps; step <= kFanSteps; ++step) {
    std::vector<Space> spaces = spaces_of(g, strips, places, 0.5 * g.period / periods * step / kFanSteps);
    if (spaces.size() < kLeastSpaces) continue;
    const double evidence = wave_of(spaces, places, periods).evidence;
    if (evidence > most) most = evidence, best = std::move(spaces);
  }
  return best;
}

bool stands_out(const std::vector<Space>& spaces, const Places& places, int periods) {
  if (spaces.empty()) return false;
  const Wave wave = wave_of(spaces, places, periods);
  if (wave.evidence < kLeastEvidence) return false;
  for (int other = kFewestWaves; other <= kMostWaves; ++other)
    if (other != periods && wave.left > kMostLeft * wave_of(spaces, places, other).left) return false;
  return true;
}

// Cosine and sine of one, two and three waves from line to line, in every space by itself.
std::vector<std::array<Eigen::Vector2d, 3>> harmonics_of(const Graduations& g, const Strips& strips) {
  const Places whole{0.0, static_cast<int>(std::ceil(2.0 * g.period)) + 1};
  std::vector<std::array<Eigen::Vector2d, 3>> harmonics;
  for (const Space& space : spaces_of(g, strips, whole)) {
    std::array<Eigen::Vector2d, 3> own;
    for (std::size_t k = 0; k < own.size(); ++k) {
      own[k].setZero();
      for (int i = 0; i + 1 < whole.count; ++i) {
        const double phase = 2.0 * kPi * (static_cast<double>(k) + 1.0) * whole.at(i);
        const double straight = space[i] - whole.at(i) * (space[whole.count - 1] - space[0]);
        own[k] += straight * Eigen::Vector2d(std::cos(phase), std::sin(phase));
      }
    }
    harmonics.push_back(own);
  }
  return harmonics;
}

struct Harmonic {
  Eigen::Vector2d mean = Eigen::Vector2d::Zero();
  double evidence = 0.0;  // over the standard error, from the scatter of the spaces
};

std::array<Harmonic, 3> mean_harmonics(const Graduations& g, const Strips& strips) {
  const auto own = harmonics_of(g, strips);
  std::array<Harmonic, 3> result;
  if (own.size() < kLeastSpaces) return result;
  const double n = static_cast<double>(own.size());
  for (std::size_t k = 0; k < result.size(); ++k) {
    double squares = kRounding;
    for (const auto& space : own) result[k].mean += space[k] / n;
    for (const auto& space : own) squares += (space[k] - result[k].mean).squaredNorm() / (n - 1.0);
    result[k].evidence = result[k].mean.norm() / std::sqrt(squares / n);
  }
  return result;
}

// In the block all lines are alike, so that two waves from line to line are what blur leaves of one more line in each
// space, with ink at the lines and half-way between. Beside it the lines found are alone, and of one wave, which their
// ends carry into the block, two are a small part.
bool shows_halves(const Graduations& g, const Strips& block, const Strips& beside) {
  const std::array<Harmonic, 3> in = mean_harmonics(g, block), out = mean_harmonics(g, beside);
  if (in[1].evidence < kLeastOfHalves || out[0].evidence < kLeastOfHalves) return false;
  const double ink = g.lines.front().amplitude < 0.0 ? -1.0 : 1.0, halves = in[1].mean.norm(),
               alone = out[1].mean.norm() / out[0].mean.norm();
  return ink * in[1].mean.x() > kInPhase * halves && alone < kMostAlone &&
         halves > kMostOthers * (alone * in[0].mean.norm() + in[2].mean.norm());
}

}  // namespace

int parts_of_block(const ImageView& image, const Graduations& g, AlongRange block, double ink) {
  const auto strips_in = [&](AlongRange range) {
    return strips_over(image, g.strips.layout.angle, kStripHeight, range);
  };
  const Strips strips = strips_in(block), beside = strips_in(common_range(g));
  if (ink > kLeastInkOfTwo && ink < kMostInkOfTwo && g.period > kLeastPart * 2.0 && shows_halves(g, strips, beside))
    return 2;
  const Places places = places_of(g);
  if (1.0 - 2.0 * places.from < kLeastSeen) return 1;
  const std::vector<Space> control = spaces_of(g, beside, places);
  if (control.size() < kLeastSpaces) return 1;
  for (const int parts : kParts) {
    if (g.period < kLeastPart * parts || ink < kLeastInk * parts || ink > kMostInk * parts) continue;
    if (stands_out(best_spaces(g, strips, places, parts), places, parts) && !stands_out(control, places, parts))
      return parts;
  }
  return 1;
}

}  // namespace scale
