#include "ruling/row_turn.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "ruling/bands.h"

namespace scale {

namespace {

constexpr double kStripHeight = 2.5;  // pixels
constexpr double kMostTurn = 0.04;    // radians: what a candidate may be off, and a little
constexpr double kSlender = 0.06;     // height over length of a row worth setting level
constexpr double kHalfStep = 2.0;     // bins on either side of an edge
constexpr std::size_t kMostPlaces = 160;
constexpr int kGap = 2, kLook = 3;  // strips beyond the row that are passed over and looked at
constexpr double kGoesOn = 0.7;     // of the edges in the row (half of the graduations may be longer)
constexpr double kRowShare = 0.4;   // of the strongest strip's step, within the row

// Steps of the profiles at the hypothesis' edges, [strip][place].
struct Steps {
  double v0 = 0.0, height = 0.0;
  int strips = 0;
  std::vector<double> place;          // along the row, pixels, about its middle
  std::vector<float> value, largest;  // the steps; the largest of either sign within half a period of them
};

float step_at(const Profile& profile, double s, double half) {
  const int low = static_cast<int>(std::lround(s - half)) - profile.first,
            high = static_cast<int>(std::lround(s + half)) - profile.first;
  if (low < profile.begin || high >= profile.end) return 0.0F;
  return profile.value[static_cast<std::size_t>(high)] - profile.value[static_cast<std::size_t>(low)];
}

float largest_step(const Profile& profile, double s, double half, double within) {
  float largest = 0.0F;
  for (double offset = -within; offset <= within; offset += 1.0)
    largest = std::max(largest, std::abs(step_at(profile, s + offset, half)));
  return largest;
}

Steps steps_of(const ImageView& image, const Hypothesis& hypothesis) {
  const Lattice& lattice = hypothesis.lattice;
  const double across = std::cos(hypothesis.angle);
  const double reach =
      0.5 * kMostTurn * (lattice.position.back() - lattice.position.front()) * across + (kGap + kLook) * kStripHeight;
  const AlongRange whole = along_range(image, hypothesis.angle);
  const AlongRange range{std::max(whole.low, hypothesis.v_low - reach),
                         std::min(whole.high, hypothesis.v_high + reach)};
  Steps steps;
  if (range.high - range.low < 2.0 * kStripHeight) return steps;
  const Strips strips = strips_over(image, hypothesis.angle, kStripHeight, range);
  steps.v0 = range.low;
  steps.height = strips.layout.height;
  steps.strips = strips.layout.count;
  const std::size_t stride = (lattice.position.size() + kMostPlaces - 1) / kMostPlaces;
  const double middle = 0.5 * (lattice.position.front() + lattice.position.back());
  const double half = std::min(kHalfStep, 0.25 * lattice.pitch);
  std::vector<double> edges;
  for (std::size_t i = 0; i < lattice.position.size(); i += stride) {
    edges.push_back(lattice.position[i]);
    steps.place.push_back((lattice.position[i] - middle) * across);
  }
  for (int k = 0; k < steps.strips; ++k) {
    const Profile profile = strip_profile(strips, k);
    for (const double edge : edges) {
      steps.value.push_back(step_at(profile, edge, half));
      steps.largest.push_back(largest_step(profile, edge, half, 0.5 * lattice.pitch));
    }
  }
  return steps;
}

// Mean of `values` over every row of strips when the row is turned back by `slope`.
std::vector<double> gathered(const Steps& steps, const std::vector<float>& values, double slope) {
  const std::size_t places = steps.place.size();
  std::vector<double> mean(static_cast<std::size_t>(steps.strips), 0.0);
  for (std::size_t i = 0; i < places; ++i) {
    const int shift = static_cast<int>(std::lround(slope * steps.place[i] / steps.height));
    const int from = std::max(0, -shift), to = std::min(steps.strips, steps.strips - shift);
    for (int k = from; k < to; ++k)
      mean[static_cast<std::size_t>(k)] +=
          static_cast<double>(values[static_cast<std::size_t>(k + shift) * places + i]) / static_cast<double>(places);
  }
  return mean;
}

double energy(const std::vector<double>& mean) {
  double sum = 0.0;
  for (const double m : mean) sum += m * m;
  return sum;
}

// Do the lines go on beyond both ends of the row, only no longer at their places? Then they are arcs of rings or
// threads, of which a short piece looks like a line.
bool goes_on(const std::vector<double>& largest, int from, int to) {
  const auto mean_of = [&](int first, int last) {
    first = std::max(0, first), last = std::min(static_cast<int>(largest.size()), last);
    double sum = 0.0;
    for (int k = first; k < last; ++k) sum += largest[static_cast<std::size_t>(k)];
    return last > first ? sum / (last - first) : 1e300;
  };
  const double beyond = std::min(mean_of(from - kGap - kLook, from - kGap), mean_of(to + kGap, to + kGap + kLook));
  return beyond > kGoesOn * mean_of(from, to);
}

}  // namespace

std::optional<LevelRow> level_row(const ImageView& image, const Hypothesis& hypothesis) {
  const double length =
      (hypothesis.lattice.position.back() - hypothesis.lattice.position.front()) * std::cos(hypothesis.angle);
  const Steps steps = steps_of(image, hypothesis);
  if (steps.strips < 2) return std::nullopt;
  const double by = 0.5 * steps.height / (0.5 * length);
  double best_slope = 0.0, best = energy(gathered(steps, steps.value, 0.0));
  for (int i = 1; i * by <= kMostTurn; ++i)
    for (const double slope : {i * by, -i * by})
      if (const double here = energy(gathered(steps, steps.value, slope)); here > best) best = here, best_slope = slope;
  const std::vector<double> row = gathered(steps, steps.value, best_slope);
  double top = 0.0;
  for (const double m : row) top = std::max(top, std::abs(m));
  int from = steps.strips, to = 0;
  for (int k = 0; k < steps.strips; ++k)
    if (std::abs(row[static_cast<std::size_t>(k)]) > kRowShare * top) from = std::min(from, k), to = k + 1;
  if ((to - from) * steps.height > kSlender * length) return std::nullopt;
  if (goes_on(gathered(steps, steps.largest, best_slope), from, to)) return std::nullopt;
  const double middle = 0.5 * (hypothesis.lattice.position.front() + hypothesis.lattice.position.back());
  // The row's middle keeps its place while the frame turns about the picture's first pixel.
  const double turn = std::atan(best_slope), x = middle * std::cos(hypothesis.angle);
  const auto turned = [&](double v) { return v * std::cos(turn) - x * std::sin(turn); };
  return LevelRow{hypothesis.angle + turn, turned(steps.v0 + from * steps.height),
                  turned(steps.v0 + to * steps.height)};
}

}  // namespace scale
