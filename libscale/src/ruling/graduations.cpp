#include "ruling/graduations.h"

#include <algorithm>
#include <cmath>

#include "numeric/robust.h"
#include "ruling/joint_fit.h"
#include "ruling/likeness.h"
#include "ruling/longer_lines.h"
#include "ruling/tracks.h"

namespace scale {

namespace {

constexpr double kLeastPeriod = 2.0;  // bins: the sampling limit
constexpr double kLeastHeight = 2.0;  // pixels, of a strip
constexpr double kStripsOfALine = 12.0;
constexpr double kMostStrips = 96.0;
constexpr double kShorter = 1.1;       // times the usual length of the shorter lines
constexpr double kWhole = 0.2;         // of a strip: what is left out rather than begin another
constexpr double kCrossedShare = 0.3;  // of the windows
constexpr double kAskew = 0.004;       // radians: strips so far off crossed lines are laid anew,
constexpr double kMostTurn = 0.026;    // and so far off others, a degree and a half,
constexpr double kMostMisled = 0.1;  // unless they were misled by what lies all over: brushed metal, a label beside it
constexpr double kCrossedMisfit = 0.02;  // of the contrast, rms over the windows: what crossing lines leave in them
constexpr double kMostLost = 0.8;        // of the lines that strips laid anew must show
constexpr double kMiddle = 0.15;         // of the period, to either side of the middle of a space
constexpr double kOpenPart = 0.15;       // of the period: strips so high lie between the lines of a grid often enough

// Strips of which a whole number makes the shorter lines, so that no part of those is lost, and that cover all lines.
Strips final_strips(const ImageView& image, double angle, const std::vector<Track>& tracks, double least_height,
                    double most_height) {
  AlongRange all{tracks.front().v_low, tracks.front().v_high};
  std::vector<double> lengths;
  for (const Track& track : tracks) {
    all = {std::min(all.low, track.v_low), std::max(all.high, track.v_high)};
    lengths.push_back(track.v_high - track.v_low);
  }
  const double shortest = numeric::quantile(std::move(lengths), 0.25);
  std::vector<double> lows, highs;
  for (const Track& track : tracks) {
    if (track.v_high - track.v_low > kShorter * shortest) continue;
    lows.push_back(track.v_low);
    highs.push_back(track.v_high);
  }
  const double low = numeric::upper_median(std::move(lows)), high = numeric::upper_median(std::move(highs));
  const double wanted =
      std::clamp(std::max(std::min(shortest / kStripsOfALine, most_height), least_height),
                 std::max(kLeastHeight, (all.high - all.low) / kMostStrips), std::max(kLeastHeight, shortest / 3.0));
  StripLayout layout;
  layout.angle = angle;
  layout.phases = 4;
  layout.height = (high - low) / std::max(1.0, std::round((high - low) / wanted));
  const double before = std::ceil((low - all.low) / layout.height - kWhole);
  layout.v0 = low - before * layout.height;
  layout.count = std::max(1, static_cast<int>(std::ceil((all.high - layout.v0) / layout.height - kWhole)));
  return sum_strips(image, layout);
}

// The strips of the search where they cover the picture along the hypothesis' own direction finely enough to follow
// lines in; else `own`, made here.
const Strips& fine_strips(const ImageView& image, const Strips& searched, const Hypothesis& hypothesis, Strips& own) {
  const AlongRange range = along_range(image, hypothesis.angle);
  const double height =
      std::clamp(std::min((range.high - range.low) / 128.0, (hypothesis.v_high - hypothesis.v_low) / 4.0), 3.0, 16.0);
  const StripLayout& layout = searched.layout;
  const bool whole = layout.v0 <= range.low + 1.0 && layout.v0 + layout.count * layout.height >= range.high - 1.0;
  if (whole && layout.angle == hypothesis.angle && layout.height < 1.25 * height) return searched;
  own = strips_over(image, hypothesis.angle, height, range);
  return own;
}

// Strips must be at least so high that a window knows its amplitude to a fifth.
double height_for(const Strips& strips, const Tracks& found, double noise) {
  const double amplitude = found.amplitude;
  const auto fit =
      fit_window(strips, (found.core.from + found.core.to) / 2, found.lines[found.lines.size() / 2].s, found.shape, {});
  if (!fit || fit->amplitude_information <= 0.0) return 2.0;
  return 25.0 * noise * noise / (amplitude * amplitude * fit->amplitude_information / strips.layout.height);
}

// Lines and windows of the tracks in the strips of `result`, fitted.
bool fit_tracks(Graduations& result, const std::vector<Track>& tracks) {
  result.lines.clear();
  result.windows.clear();
  result.bend = {};
  result.v_reference = 0.0;  // on the line through the middle of what is in view
  for (const Track& track : tracks) {
    MeasuredLine line;
    line.index = track.index - tracks.front().index;
    line.s = track.s;
    line.v_low = track.v_low;
    line.v_high = track.v_high;
    line.amplitude = track.amplitude;
    const StripRange inside = strips_inside(result.strips, track.v_low, track.v_high);
    for (int k = inside.from; k < inside.to; ++k) result.windows.push_back({result.lines.size(), k, {}, true});
    result.lines.push_back(line);
    result.v_reference += 0.5 * (track.v_low + track.v_high) / static_cast<double>(tracks.size());
  }
  // Strip by strip, as they lie in memory.
  std::stable_sort(result.windows.begin(), result.windows.end(),
                   [](const LineWindow& a, const LineWindow& b) { return a.strip < b.strip; });
  return fit_jointly(result);
}

double turn_of(const Graduations& g) { return -std::atan(g.bend.lean * std::cos(g.angle)); }

// Centres of the lines in the frame of their strips, which are along `angle` still.
void place_lines(Graduations& g) {
  for (MeasuredLine& line : g.lines) {
    const double t = line.s * std::cos(g.angle);
    line.x = t * std::cos(g.angle) - g.v_reference * std::sin(g.angle);
    line.y = t * std::sin(g.angle) + g.v_reference * std::cos(g.angle);
  }
}

// The same lines in strips along their own direction.
Hypothesis set_upright(const Graduations& g, Hypothesis lines) {
  const double before = lines.angle, turn = turn_of(g);
  lines.angle += turn;
  lines.lattice.index.clear();
  lines.lattice.position.clear();
  lines.lattice.edge_strength.clear();
  std::vector<double> low, high;
  for (const MeasuredLine& line : g.lines) {
    lines.lattice.index.push_back(line.index);
    lines.lattice.position.push_back(line.x + std::tan(lines.angle) * line.y);
    const double v = line.y * std::cos(lines.angle) - line.x * std::sin(lines.angle);
    low.push_back(v + (line.v_low - g.v_reference) / std::cos(turn));
    high.push_back(v + (line.v_high - g.v_reference) / std::cos(turn));
  }
  lines.lattice.pitch *= std::cos(before) / std::cos(lines.angle);
  lines.v_low = numeric::upper_median(std::move(low));
  lines.v_high = numeric::upper_median(std::move(high));
  return lines;
}

// Are so many windows left out that the lines of a grid must lie in them?
bool mostly_crossed(const Graduations& g) {
  const auto out = std::count_if(g.windows.begin(), g.windows.end(), [](const LineWindow& w) { return !w.used; });
  return static_cast<double>(out) > kCrossedShare * static_cast<double>(g.windows.size());
}

// In strips along the direction of the hypothesis, which that of the lines may differ from.
Graduations measure_in_strips(const ImageView& image, const Strips& searched, const Hypothesis& hypothesis,
                              double noise) {
  Graduations result;
  const double period = hypothesis.lattice.pitch;
  // A lattice that ran away (lines of a steadily changing spacing can make one) is no hypothesis.
  if (!(period >= kLeastPeriod && period <= image.width + image.height)) return result;
  Strips own;
  const Strips& strips = fine_strips(image, searched, hypothesis, own);
  const Tracks found = find_tracks(strips, hypothesis);
  const std::vector<Track>& tracks = found.lines;
  if (tracks.size() < 3) return result;

  result.angle = hypothesis.angle;
  result.period = period;
  result.shape = found.shape;
  const double least_height = height_for(strips, found, noise);
  result.strips = final_strips(image, hypothesis.angle, tracks, least_height, 1e300);
  bool fitted = fit_tracks(result, tracks);
  const double open = kOpenPart * period * std::cos(hypothesis.angle);
  if (fitted && open > kLeastHeight && result.strips.layout.height > open && mostly_crossed(result)) {
    result.strips = final_strips(image, hypothesis.angle, tracks, least_height, open);
    fitted = fit_tracks(result, tracks);
  }
  if (fitted)
    read_longer_lines(image, result);
  else
    result.lines.clear();
  place_lines(result);
  return result;
}

}  // namespace

AlongRange common_range(const Graduations& g) {
  AlongRange range{g.lines.front().v_low, g.lines.front().v_high};
  for (const MeasuredLine& line : g.lines) range = {std::max(range.low, line.v_low), std::min(range.high, line.v_high)};
  return range;
}

AlongRange usual_range(const Graduations& g) {
  std::vector<double> low, high;
  for (const MeasuredLine& line : g.lines) low.push_back(line.v_low), high.push_back(line.v_high);
  return {numeric::upper_median(std::move(low)), numeric::upper_median(std::move(high))};
}

AlongRange whole_range(const Graduations& g) {
  AlongRange range{g.lines.front().v_low, g.lines.front().v_high};
  for (const MeasuredLine& line : g.lines) range = {std::min(range.low, line.v_low), std::max(range.high, line.v_high)};
  return range;
}

double usual_length(const Graduations& g) {
  std::vector<double> lengths;
  for (const MeasuredLine& line : g.lines) lengths.push_back(line.v_high - line.v_low);
  return numeric::upper_median(std::move(lengths)) / g.period;
}

double half_of_middle(const Graduations& g) { return std::max(1.0, kMiddle * g.period); }

Graduations measure_graduations(const ImageView& image, const Strips& searched, const Hypothesis& hypothesis,
                                double noise) {
  Graduations result = measure_in_strips(image, searched, hypothesis, noise);
  const double turn = std::abs(turn_of(result));
  const bool askew = turn > kMostTurn || (turn > kAskew && !result.lines.empty() && result.period >= kDensePeriod &&
                                          misfit(result, contrast_of(result), noise) > kCrossedMisfit);
  if (!result.lines.empty() && askew && turn < kMostMisled) {
    Graduations upright = measure_in_strips(image, searched, set_upright(result, hypothesis), noise);
    const bool better = std::abs(turn_of(upright))<turn&& static_cast<double>(upright.lines.size())> kMostLost *
                        static_cast<double>(result.lines.size());
    if (turn > kMostTurn || better) result = std::move(upright);
  }
  if (std::abs(turn_of(result)) > kMostTurn) result.lines.clear();
  for (MeasuredLine& line : result.lines)
    line.sigma = line.weight > 0.0 ? result.window_sigma / std::sqrt(line.weight) * std::cos(result.angle) : 0.0;
  result.angle += turn_of(result);
  return result;
}

}  // namespace scale
