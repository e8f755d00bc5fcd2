#include "ruling/likeness.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include <oneapi/tbb/parallel_for.h>

#include "numeric/robust.h"
#include "ruling/bands.h"
#include "ruling/edges.h"

namespace scale {

namespace {

constexpr double kBeyond = 4.5;         // periods beyond the ends that are looked at
constexpr double kLikeAmplitude = 0.6;  // of the lines' own
constexpr double kLikeShare = 0.7;      // of the variance that their profile explains
constexpr double kLeastClean = 0.35;    // of all windows
constexpr double kCrossedGround = 0.5;  // of the lines' contrast
constexpr int kStrayBands = 5;
constexpr double kBesideLine = 0.6;      // of the period
constexpr double kFellows = 0.4;         // of the lines, that must have such an edge
constexpr double kFellow = 0.8;          // of the strength that counts, for an edge to be of its kind
constexpr double kLeastStrayBand = 6.0;  // pixels
constexpr double kOffPlace = 0.15;       // of the period
constexpr double kDriftLookedAt = 0.08;  // less needs no explanation by chance
constexpr double kWidthsByChance = 3.0;  // standard deviations, of lines broader at one end
constexpr double kOfWidth = 0.5;        // of the squares that another width leaves of a common shape: lines may be worn
constexpr std::size_t kLeastBends = 8;  // of the ground, to judge by
constexpr std::size_t kLeastOfStrip = 5;  // lines, to tell what they have in common
constexpr std::size_t kLeastOfLevel = 5;  // lines, for the scatter of their ends

// Windows whose ground lies as far toward the lines' own grey as a line across them puts it.
std::vector<bool> crossed_windows(const Graduations& g) {
  std::vector<double> grounds, amplitudes;
  for (const LineWindow& w : g.windows)
    if (w.used) grounds.push_back(w.fit.background);
  for (const MeasuredLine& line : g.lines) amplitudes.push_back(line.amplitude);
  std::vector<bool> crossed(g.windows.size(), false);
  if (grounds.empty()) return crossed;
  const double amplitude = numeric::upper_median(std::move(amplitudes));
  const double free = numeric::quantile(std::move(grounds), amplitude < 0.0 ? 0.75 : 0.25);
  for (std::size_t i = 0; i < crossed.size(); ++i)
    crossed[i] = (g.windows[i].fit.background - free) / amplitude > kCrossedGround;
  return crossed;
}

using GroundLevels = std::map<std::pair<int, int>, double>;  // by strip and index of the line

// Less what all lines have in common in a strip: lines that cross them cover a part of it.
GroundLevels ground_levels(const Graduations& g) {
  const std::vector<bool> crossed = crossed_windows(g);
  GroundLevels ground;
  std::map<int, std::vector<double>> in_strip;
  for (std::size_t i = 0; i < g.windows.size(); ++i) {
    const LineWindow& w = g.windows[i];
    if (!w.used || crossed[i]) continue;
    ground[{w.strip, g.lines[w.line].index}] = w.fit.background;
    in_strip[w.strip].push_back(w.fit.background);
  }
  std::map<int, double> common;
  for (auto& [strip, levels] : in_strip)
    common[strip] = levels.size() < kLeastOfStrip ? 0.0 : numeric::upper_median(std::move(levels));
  for (auto& [place, level] : ground) level -= common[place.first];
  return ground;
}

// Root mean square between two profiles, less what is straight of it: that is the ground, which slopes where the light
// is uneven.
double difference(const LineShape& a, const LineShape& b, double window) {
  double squares = 0.0, straight = 0.0, along = 0.0, count = 0.0;
  for (double t = -window; t <= window; t += LineShape::step, count += 1.0) {
    const double off = a.at(t).value - b.at(t).value;
    squares += off * off, straight += off * t, along += t * t;
  }
  return std::sqrt(std::max(0.0, squares - straight * straight / along) / count);
}

std::size_t third_of(const std::vector<std::size_t>& lines) { return std::max<std::size_t>(1, lines.size() / 3); }

// Do the own widths of these lines differ from one end to the other by no more than neighbours' make likely?
bool widths_by_chance(const Graduations& g, const std::vector<std::size_t>& lines) {
  const std::size_t n = lines.size(), third = third_of(lines);
  double squares = 0.0, trend = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double own = g.lines[lines[i]].broader;
    if (i > 0) squares += std::pow(own - g.lines[lines[i - 1]].broader, 2);
    if (i < third) trend -= own / static_cast<double>(third);
    if (i + third >= n) trend += own / static_cast<double>(third);
  }
  // A difference of neighbours has twice the variance of one width, that of the means of thirds has 2 / third of it.
  return trend * trend <= kWidthsByChance * kWidthsByChance * squares / static_cast<double>((n - 1) * third);
}

}  // namespace

double contrast_of(const Graduations& g) {
  std::vector<double> amplitudes;
  for (const MeasuredLine& line : g.lines) amplitudes.push_back(std::abs(line.amplitude));
  return numeric::upper_median(amplitudes);
}

double scatter_along(const Graduations& g, double noise) {
  // Where a base line or the lines of a grid cross, a window says nothing about the line; but a pattern of which most
  // is like that is no ruling.
  const std::vector<bool> crossed = crossed_windows(g);
  const auto open = [&](std::size_t i) { return g.windows[i].fit.pixels > 0.0 && !g.windows[i].spoilt && !crossed[i]; };
  std::size_t clean = 0;
  for (std::size_t i = 0; i < g.windows.size(); ++i) clean += open(i);
  const bool all = static_cast<double>(clean) < kLeastClean * static_cast<double>(g.windows.size());
  const auto counts = [&](std::size_t i) { return all ? g.windows[i].fit.pixels > 0.0 : open(i); };
  std::vector<std::vector<double>> heights(g.lines.size()), greys(g.lines.size());
  for (std::size_t i = 0; i < g.windows.size(); ++i) {
    if (!counts(i)) continue;
    const WindowFit& fit = g.windows[i].fit;
    heights[g.windows[i].line].push_back(fit.amplitude);
    greys[g.windows[i].line].push_back(fit.background + fit.amplitude);
  }
  std::vector<double> usual, grey, deviations;
  for (auto& own : heights) usual.push_back(numeric::upper_median(std::move(own)));
  for (auto& own : greys) grey.push_back(numeric::upper_median(std::move(own)));
  double variance = 0.0;
  for (std::size_t i = 0; i < g.windows.size(); ++i) {
    if (!counts(i)) continue;
    const LineWindow& w = g.windows[i];
    const double a = usual[w.line];
    // What crosses a part of the window takes from the ground beside the line, not from the line.
    const double of_height = std::abs(w.fit.amplitude / a - 1.0),
                 of_grey = std::abs((w.fit.background + w.fit.amplitude - grey[w.line]) / a);
    deviations.push_back(std::min(of_height, of_grey));
    variance += 2.0 * noise * noise / (a * a * std::max(1e-12, w.fit.amplitude_information));
  }
  if (deviations.empty()) return 1.0;
  const double scatter = 1.4826 * numeric::upper_median(deviations);
  return std::sqrt(std::max(0.0, scatter * scatter - variance / static_cast<double>(deviations.size())));
}

double scatter_of_ground(const Graduations& g) {
  const GroundLevels ground = ground_levels(g);
  double largest = 0.0;
  for (const auto& step : {std::pair{0, 1}, std::pair{1, 0}}) {  // from line to line, along a line
    std::vector<double> bends;
    for (const auto& [place, level] : ground) {
      const auto before = ground.find({place.first - step.first, place.second - step.second});
      const auto after = ground.find({place.first + step.first, place.second + step.second});
      if (before != ground.end() && after != ground.end())
        bends.push_back(std::abs(level - 0.5 * (before->second + after->second)));
    }
    if (bends.size() < kLeastBends) return g.scatter.background;
    largest = std::max(largest, numeric::kMadToSigma * numeric::upper_median(std::move(bends)) / std::sqrt(1.5));
  }
  return std::min(g.scatter.background, largest);
}

double scatter_between(const Graduations& g) {
  std::vector<double> steps;
  for (std::size_t i = 1; i < g.lines.size(); ++i) {
    const double a = g.lines[i - 1].amplitude, b = g.lines[i].amplitude;
    steps.push_back(std::abs(b - a) / std::abs(0.5 * (a + b)));
  }
  return 1.4826 * numeric::upper_median(steps) / std::sqrt(2.0);
}

double raggedness(const Graduations& g) {
  std::vector<double> scatters;
  std::map<int, const MeasuredLine*> at;
  for (const MeasuredLine& line : g.lines) at[line.index] = &line;
  const auto ends = [](const MeasuredLine& l) {
    return std::array<double, 3>{l.v_low, l.v_high, 0.5 * (l.v_low + l.v_high)};
  };
  for (const int apart : {1, 2, 5}) {  // neighbours of one level: all lines, every second, every fifth
    std::array<std::vector<double>, 3> bends;
    for (const auto& [index, line] : at) {
      const auto before = at.find(index - apart), after = at.find(index + apart);
      if (before == at.end() || after == at.end()) continue;
      const auto a = ends(*before->second), b = ends(*line), c = ends(*after->second);
      for (std::size_t k = 0; k < 3; ++k) bends[k].push_back(std::abs(a[k] - 2.0 * b[k] + c[k]));
    }
    if (apart > 1 && bends[0].size() < kLeastOfLevel) continue;
    for (auto& bend : bends)
      scatters.push_back(numeric::kMadToSigma * numeric::upper_median(std::move(bend)) / std::sqrt(6.0));
  }
  return *std::min_element(scatters.begin(), scatters.end()) / (usual_length(g) * g.period);
}

ShapeDrift shape_drift(const Graduations& g) {
  std::vector<std::size_t> counting;  // lines no window of which counts are the border of the field, or dirt
  for (std::size_t l = 0; l < g.lines.size(); ++l)
    if (g.lines[l].windows > 0) counting.push_back(l);
  if (counting.size() < 2) return {};
  const bool by_chance = counting.size() >= kFewLines && widths_by_chance(g, counting);
  std::vector<std::vector<FoldWindow>> windows(g.lines.size());
  for (const LineWindow& w : g.windows)
    if (w.fit.pixels > 0.0)
      windows[w.line].push_back({w.strip,
                                 g.centre(w.line, w.strip),
                                 w.fit.background,
                                 w.fit.amplitude,
                                 {},
                                 by_chance ? g.lines[w.line].broader : 0.0});
  const auto folded = [&](auto from, auto to) {
    std::vector<FoldWindow> all;
    for (; from != to; ++from) all.insert(all.end(), windows[*from].begin(), windows[*from].end());
    return all.empty() ? std::optional<LineShape>() : fold_shape(g.strips, all, g.shape.window, 0.5);
  };
  const auto third = static_cast<std::ptrdiff_t>(third_of(counting));
  const auto first = folded(counting.begin(), counting.begin() + third),
             last = folded(counting.end() - third, counting.end());
  if (!first || !last) return {};
  const double drift = difference(*first, *last, g.shape.window);
  if (drift < kDriftLookedAt) return {drift, 0.0};
  std::vector<double> steps;
  auto before = folded(counting.begin(), counting.begin() + 1);
  for (auto line = counting.begin() + 1; line != counting.end(); ++line) {
    auto here = folded(line, line + 1);
    if (before && here) steps.push_back(difference(*before, *here, g.shape.window));
    before = std::move(here);
  }
  double squares = 0.0;
  for (const double step : steps) squares += step * step;
  const double of_step = squares / std::max(1.0, static_cast<double>(steps.size()));
  return {drift, std::sqrt(of_step / static_cast<double>(third))};
}

double misfit(const Graduations& g, double contrast, double noise) {
  std::vector<double> sum(g.lines.size(), 0.0), count(g.lines.size(), 0.0), lines;
  for (const LineWindow& w : g.windows) {
    if (w.fit.pixels <= 0.0) continue;
    const double rows = std::max(1.0, w.fit.pixels / (2.0 * g.shape.window));
    const MeasuredLine& line = g.lines[w.line];
    const double by_width =
        kOfWidth * std::abs(line.broader) / (2.0 * g.shape.window) * line.amplitude * line.amplitude;
    sum[w.line] += std::max(0.0, w.fit.residual_variance - 1.5 * noise * noise) / rows + by_width;
    count[w.line] += 1.0;
  }
  for (std::size_t l = 0; l < sum.size(); ++l)
    if (count[l] > 0.0) lines.push_back(std::sqrt(sum[l] / count[l]) / contrast);
  if (lines.empty()) return 1.0;
  return numeric::quantile(std::move(lines), 0.8);
}

double evenness_in_turns(const Graduations& g) {
  double least = 1.0;
  for (const int m : {2, 3, 4, 5}) {
    std::vector<std::vector<FoldWindow>> classes(static_cast<std::size_t>(m));
    for (const LineWindow& w : g.windows)
      if (w.used)
        classes[static_cast<std::size_t>(g.lines[w.line].index % m)].push_back(
            {w.strip, g.centre(w.line, w.strip), w.fit.background, 1.0, {}});
    double weakest = 1e300, strongest = 0.0;
    for (const std::vector<FoldWindow>& windows : classes) {
      if (windows.size() < 3) continue;
      const LineShape shape = fold_shape(g.strips, windows, 0.5 * g.period, 0.5);
      double low = 1e300, high = -1e300;
      for (double t = -0.5 * g.period; t <= 0.5 * g.period; t += LineShape::step) {
        low = std::min(low, shape.at(t).value);
        high = std::max(high, shape.at(t).value);
      }
      weakest = std::min(weakest, high - low);
      strongest = std::max(strongest, high - low);
    }
    if (strongest > 0.0) least = std::min(least, weakest / strongest);
  }
  return least;
}

namespace {

struct PlacedEdge {
  std::size_t line = 0;  // the nearest one
  double phase = 0.0, strength = 0.0;
};

// Edges between half a period before the first line and half a period after the last, where a line was measured: where
// none was it is hidden, or missing, or the border of the field.
std::vector<PlacedEdge> place(const std::vector<Edge>& edges, const Graduations& g) {
  const double first = g.lines.front().s - 0.5 * g.period, last = g.lines.back().s + 0.5 * g.period;
  std::vector<PlacedEdge> placed;
  for (const Edge& edge : edges) {
    if (edge.s < first || edge.s > last) continue;
    const auto nearest = std::min_element(
        g.lines.begin(), g.lines.end(),
        [&](const MeasuredLine& a, const MeasuredLine& b) { return std::abs(a.s - edge.s) < std::abs(b.s - edge.s); });
    if (std::abs(edge.s - nearest->s) > kBesideLine * g.period || !(nearest->sigma > 0.0)) continue;
    placed.push_back({static_cast<std::size_t>(nearest - g.lines.begin()), edge.s - nearest->s, edge.strength});
  }
  return placed;
}

// Marks the lines beside which an edge about as strong as theirs has no fellows at the other lines.
void mark_strays(const std::vector<PlacedEdge>& edges, const Graduations& g, std::vector<bool>& stray) {
  if (edges.empty()) return;
  std::vector<double> sorted;
  for (const PlacedEdge& edge : edges) sorted.push_back(edge.strength);
  const std::size_t middle = std::min(sorted.size(), g.lines.size()) / 2;
  std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(middle), sorted.end(),
                   std::greater<>());
  const double least = 0.5 * sorted[middle], tolerance = std::max(1.0, 0.05 * g.period);
  for (const PlacedEdge& edge : edges) {
    if (edge.strength < least) continue;
    const auto fellows = std::count_if(edges.begin(), edges.end(), [&](const PlacedEdge& other) {
      return other.strength >= kFellow * least && std::abs(other.phase - edge.phase) < tolerance;
    });
    if (static_cast<double>(fellows) < kFellows * static_cast<double>(g.lines.size())) stray[edge.line] = true;
  }
}

double strays_within(const ImageView& image, const Graduations& g, AlongRange range) {
  const Profile profile = strip_profile(one_strip(image, g.strips.layout.angle, range.low, range.high), 0);
  if (profile.end - profile.begin < 8) return 0.0;
  const Edges edges = edges_of(profile, edge_response(profile, std::max(0.8, g.shape.blur)), 0.0);
  std::vector<bool> stray(g.lines.size(), false);
  mark_strays(place(edges.rising, g), g, stray);
  mark_strays(place(edges.falling, g), g, stray);
  return static_cast<double>(std::count(stray.begin(), stray.end(), true)) / static_cast<double>(stray.size());
}

}  // namespace

double strays(const ImageView& image, const Graduations& g) {
  AlongRange range = common_range(g);
  if (range.high - range.low < 2.0) range = {g.v_reference - 2.0, g.v_reference + 2.0};
  // Text or a bar that lies over some of the lines fills a part of the range only.
  const int bands = std::clamp(static_cast<int>((range.high - range.low) / kLeastStrayBand), 1, kStrayBands);
  std::vector<double> shares(static_cast<std::size_t>(bands));
  oneapi::tbb::parallel_for(0, bands, [&](int k) {
    const double height = (range.high - range.low) / bands, low = range.low + k * height;
    shares[static_cast<std::size_t>(k)] = strays_within(image, g, {low, low + height});
  });
  return numeric::upper_median(std::move(shares));
}

int lines_elsewhere(const Graduations& g) {
  const AlongRange range = common_range(g);
  const StripLayout& layout = g.strips.layout;
  const int from = std::clamp(static_cast<int>((range.low - layout.v0) / layout.height), 0, layout.count - 1);
  const int to = std::clamp(static_cast<int>((range.high - layout.v0) / layout.height), from + 1, layout.count);
  const Strips band = merged(g.strips, from, to);
  const LineShape shape = g.window_shape();
  std::vector<double> amplitudes;
  for (const MeasuredLine& line : g.lines) amplitudes.push_back(line.amplitude);
  const double usual = numeric::upper_median(std::move(amplitudes));
  const double step = std::max(0.25, 0.5 * g.shape.blur);
  const Profile seen = strip_profile(band, 0);
  // Half a pair of lines at the border of what is seen would look like a whole one elsewhere.
  const auto share_at = [&](double s) {
    if (s - shape.window < seen.first + seen.begin || s + shape.window > seen.first + seen.end) return 0.0;
    const auto fit = fit_window(band, 0, s, shape, {});
    const double ratio = fit ? fit->amplitude / usual : 0.0;
    return ratio > kLikeAmplitude && ratio < 1.0 / kLikeAmplitude ? fit->share : 0.0;
  };
  int elsewhere = 0;
  for (const bool after : {false, true}) {
    const std::size_t l = after ? g.lines.size() - 1 : 0, m = after ? l - 1 : 1;
    const double end = g.centre_at(l, band.v_centre(0));
    const double pitch = (g.lines[l].s - g.lines[m].s) / std::abs(g.lines[l].index - g.lines[m].index);
    if (!(std::abs(pitch) < 2.0 * g.period)) continue;  // a line that ran away
    double before = 0.0, here = share_at(end + 0.4 * pitch);
    for (double t = 0.4 * std::abs(pitch) + step; t < kBeyond * std::abs(pitch); t += step) {
      const double next = share_at(end + (pitch > 0.0 ? t : -t));
      const double phase = (t - step) / std::abs(pitch);
      if (here > kLikeShare && here >= before && here > next && std::abs(phase - std::round(phase)) > kOffPlace)
        ++elsewhere;
      before = here;
      here = next;
    }
  }
  return elsewhere;
}

}  // namespace scale
