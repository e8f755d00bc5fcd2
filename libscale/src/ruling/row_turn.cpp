#include "ruling/row_turn.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <oneapi/tbb/parallel_for.h>

#include "ruling/bands.h"
#include "ruling/tracks.h"

namespace scale {

namespace {

constexpr double kStripHeight = 2.5;  // pixels
constexpr double kMostTurn = 0.04;    // radians: what a candidate may be off, and a little
constexpr double kSlender = 0.06;     // height over length of a row worth setting level
constexpr double kHalfStep = 2.0;     // bins on either side of an edge
constexpr std::size_t kMostPlaces = 160;
constexpr int kGap = 2, kLook = 3;    // strips beyond the row that are passed over and looked at
constexpr double kGoesOn = 0.7;       // of the edges in the row (half of the graduations may be longer)
constexpr double kRowShare = 0.4;     // of the strongest strip's step, within the row,
constexpr double kCoarseShare = 0.6;  // and in the first look, which must not miss one

// Where the profiles are looked at: the hypothesis' edges, a share of them when there are many.
struct Places {
  std::vector<double> edge;   // s
  std::vector<double> along;  // the same along the row, pixels, about its middle
  double half = 0.0;          // bins on either side
};

Places places_of(const Hypothesis& hypothesis) {
  const Lattice& lattice = hypothesis.lattice;
  Places places;
  places.half = std::min(kHalfStep, 0.25 * lattice.pitch);
  const double middle = 0.5 * (lattice.position.front() + lattice.position.back());
  const std::size_t stride = (lattice.position.size() + kMostPlaces - 1) / kMostPlaces;
  for (std::size_t i = 0; i < lattice.position.size(); i += stride) {
    places.edge.push_back(lattice.position[i]);
    places.along.push_back((lattice.position[i] - middle) * std::cos(hypothesis.angle));
  }
  return places;
}

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

// Some number of every strip at every place, [strip][place].
template <class Number>
std::vector<float> numbers_of(const Strips& strips, const Places& places, Number number) {
  const std::size_t count = places.edge.size();
  std::vector<float> values(static_cast<std::size_t>(strips.layout.count) * count);
  oneapi::tbb::parallel_for(0, strips.layout.count, [&](int k) {
    const Profile profile = strip_profile(strips, k);
    float* of_strip = &values[static_cast<std::size_t>(k) * count];
    for (std::size_t i = 0; i < count; ++i) of_strip[i] = number(profile, places.edge[i]);
  });
  return values;
}

std::vector<float> steps_of(const Strips& strips, const Places& places) {
  return numbers_of(strips, places, [&](const Profile& p, double edge) { return step_at(p, edge, places.half); });
}

// Mean of `values` over every row of strips when the row is turned back by `slope`.
std::vector<double> gathered(const Strips& strips, const Places& places, const std::vector<float>& values,
                             double slope) {
  const std::size_t count = places.along.size();
  std::vector<double> mean(static_cast<std::size_t>(strips.layout.count), 0.0);
  for (std::size_t i = 0; i < count; ++i) {
    const int shift = static_cast<int>(std::lround(slope * places.along[i] / strips.layout.height));
    const int from = std::max(0, -shift), to = std::min(strips.layout.count, strips.layout.count - shift);
    for (int k = from; k < to; ++k)
      mean[static_cast<std::size_t>(k)] +=
          static_cast<double>(values[static_cast<std::size_t>(k + shift) * count + i]) / static_cast<double>(count);
  }
  return mean;
}

// Strips [from, to) from the first to the last that shows `share` of the strongest one's step.
StripRange extent_of(const std::vector<double>& row, double share) {
  double top = 0.0;
  for (const double m : row) top = std::max(top, std::abs(m));
  StripRange range{static_cast<int>(row.size()), 0};
  for (int k = 0; k < static_cast<int>(row.size()); ++k)
    if (std::abs(row[static_cast<std::size_t>(k)]) > share * top) range = {std::min(range.from, k), k + 1};
  return range;
}

double energy(const std::vector<double>& mean) {
  double sum = 0.0;
  for (const double m : mean) sum += m * m;
  return sum;
}

// Do the lines go on beyond both ends of the row, only no longer at their places? Then they are arcs of rings or
// threads, of which a short piece looks like a line.
bool goes_on(const std::vector<double>& largest, StripRange row) {
  const auto mean_of = [&](int first, int last) {
    first = std::max(0, first), last = std::min(static_cast<int>(largest.size()), last);
    double sum = 0.0;
    for (int k = first; k < last; ++k) sum += largest[static_cast<std::size_t>(k)];
    return last > first ? sum / (last - first) : 1e300;
  };
  const double beyond =
      std::min(mean_of(row.from - kGap - kLook, row.from - kGap), mean_of(row.to + kGap, row.to + kGap + kLook));
  return beyond > kGoesOn * mean_of(row.from, row.to);
}

// Even turned at most, a slender row stays within this part of the strips it was found in.
bool may_be_slender(const Strips& searched, const Places& places, double length) {
  const StripRange range = extent_of(gathered(searched, places, steps_of(searched, places), 0.0), kCoarseShare);
  return (range.to - range.from - 2) * searched.layout.height <= (kSlender + kMostTurn) * length;
}

// The slope at which the steps gather in the fewest rows.
double gathering_slope(const Strips& strips, const Places& places, const std::vector<float>& steps, double length) {
  const double by = strips.layout.height / length;
  double best_slope = 0.0, best = energy(gathered(strips, places, steps, 0.0));
  for (int i = 1; i * by <= kMostTurn; ++i)
    for (const double slope : {i * by, -i * by})
      if (const double here = energy(gathered(strips, places, steps, slope)); here > best)
        best = here, best_slope = slope;
  return best_slope;
}

}  // namespace

std::optional<LevelRow> level_row(const ImageView& image, const Strips& searched, const Hypothesis& hypothesis) {
  const Places places = places_of(hypothesis);
  const std::vector<double>& position = hypothesis.lattice.position;
  const double across = std::cos(hypothesis.angle), length = (position.back() - position.front()) * across;
  if (!may_be_slender(searched, places, length)) return std::nullopt;
  const double reach = 0.5 * kMostTurn * length + (kGap + kLook) * kStripHeight;
  const AlongRange whole = along_range(image, hypothesis.angle);
  const AlongRange range{std::max(whole.low, hypothesis.v_low - reach),
                         std::min(whole.high, hypothesis.v_high + reach)};
  if (range.high - range.low < 2.0 * kStripHeight) return std::nullopt;
  const Strips strips = strips_over(image, hypothesis.angle, kStripHeight, range);
  const std::vector<float> steps = steps_of(strips, places);
  const double slope = gathering_slope(strips, places, steps, length);
  const StripRange row = extent_of(gathered(strips, places, steps, slope), kRowShare);
  if ((row.to - row.from) * strips.layout.height > kSlender * length) return std::nullopt;
  const std::vector<float> largest = numbers_of(strips, places, [&](const Profile& profile, double edge) {
    return largest_step(profile, edge, places.half, 0.5 * hypothesis.lattice.pitch);
  });
  if (goes_on(gathered(strips, places, largest, slope), row)) return std::nullopt;
  // The row's middle keeps its place while the frame turns about the picture's first pixel.
  const double turn = std::atan(slope), x = 0.5 * (position.front() + position.back()) * across;
  const auto turned = [&](int strip) {
    return (range.low + strip * strips.layout.height) * std::cos(turn) - x * std::sin(turn);
  };
  return LevelRow{hypothesis.angle + turn, turned(row.from), turned(row.to)};
}

}  // namespace scale
