#include "ruling/period.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <oneapi/tbb/parallel_for.h>
#include <scale/units.h>

#include "ruling/edges.h"
#include "ruling/spectrum.h"
#include "ruling/upright.h"

namespace scale {

namespace {

constexpr std::array<double, 4> kSmoothings{0.8, 2.0, 5.0, 12.0};  // bins
constexpr int kMostGroups = 32;                                    // finest bands in one picture
constexpr double kStripHeight = 16.0;   // pixels; a degree and a half of error shifts it by less than half a bin
constexpr double kEdgeThreshold = 4.0;  // noise levels
constexpr double kStrongShare = 0.3;    // of the strongest edges, for the second set of edges
constexpr std::size_t kPeriodsTried = 8;
constexpr double kCertain = -20.0;        // log10 of false alarms, below which more does not matter
constexpr double kCertainStrength = 0.4;  // of the strongest step, for the search to stop
constexpr double kFaintness = 8.0;        // log10 of false alarms that a tenth of the contrast costs
constexpr double kMostStairs = 2.0;       // rows that a period can step down to be of the rows' own making,
constexpr double kStairTolerance = 0.01;  // about
constexpr double kFullOccupancy = 0.9;    // of a lattice, and of the edges within it, that leave nothing to look for

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

// The height of a step whose steepest slope, smoothed, is this.
double step_of(double strength, double smoothing) {
  return strength * std::sqrt(2.0 * kPi) * std::hypot(smoothing, 0.8);
}

double strongest(const Edges& edges) {
  std::vector<double> strengths;
  for (const auto* set : {&edges.rising, &edges.falling})
    for (const Edge& edge : *set) strengths.push_back(edge.strength);
  if (strengths.empty()) return 0.0;
  const auto at = strengths.begin() + static_cast<std::ptrdiff_t>(0.9 * static_cast<double>(strengths.size() - 1));
  std::nth_element(strengths.begin(), at, strengths.end());
  return *at;
}

std::vector<Edge> stronger_than(const std::vector<Edge>& edges, double threshold) {
  std::vector<Edge> strong;
  std::copy_if(edges.begin(), edges.end(), std::back_inserter(strong),
               [&](const Edge& e) { return e.strength > threshold; });
  return strong;
}

// The noise of a profile that merges `rows` rows.
double profile_noise(double noise, double rows) { return noise / std::sqrt(std::max(1.0, rows)); }

// One band at one smoothing.
struct Look {
  Hypothesis pattern;
  Edges edges;
  double threshold = 0.0;
  std::vector<float> response;
};

Look look_at(const Profile& profile, const Hypothesis& pattern, double noise) {
  Look look{pattern, {}, 0.0, edge_response(profile, pattern.smoothing)};
  look.threshold =
      kEdgeThreshold * profile_noise(noise, pattern.v_high - pattern.v_low) * edge_response_gain(pattern.smoothing);
  look.edges = edges_of(profile, look.response, look.threshold);
  return look;
}

// Does the lattice account for nearly all edges where it lies?
bool exhausts(const Lattice& lattice, const std::vector<Edge>& edges) {
  if (lattice.log10_false_alarms > kCertain || lattice.occupancy < kFullOccupancy) return false;
  const auto inside = std::count_if(edges.begin(), edges.end(), [&](const Edge& e) {
    return e.s >= lattice.position.front() && e.s <= lattice.position.back();
  });
  return static_cast<double>(lattice.index.size()) >= kFullOccupancy * static_cast<double>(inside);
}

void search_edges(const Edges& edges, const std::vector<double>& periods, double tests, const Hypothesis& pattern,
                  std::vector<Hypothesis>& found) {
  std::vector<double> seen;
  for (const double period : periods) {
    if (std::any_of(seen.begin(), seen.end(), [&](double s) { return std::abs(s - period) < 0.01 * period; })) continue;
    seen.push_back(period);
    Hypothesis hypothesis = pattern;
    hypothesis.lattice =
        join(best_lattice(edges.rising, period, tests), best_lattice(edges.falling, period, tests), hypothesis.rising);
    if (hypothesis.lattice.index.size() < 3 || hypothesis.lattice.log10_false_alarms > 0.0) continue;
    hypothesis.step = step_of(hypothesis.lattice.strength, pattern.smoothing);
    const bool enough = exhausts(hypothesis.lattice, hypothesis.rising ? edges.rising : edges.falling);
    found.push_back(std::move(hypothesis));
    if (enough) break;
  }
}

std::vector<double> periods_of(const Edges& edges, const std::vector<double>& spectral, PeriodRange range) {
  std::vector<double> periods = candidate_pitches(edges, kPeriodsTried);
  periods.insert(periods.end(), spectral.begin(), spectral.end());
  std::erase_if(periods, [&](double period) { return period < range.low || period > range.high; });
  return periods;
}

Hypothesis pattern_of(const PeriodSearch& search, const Band& band) {
  Hypothesis pattern;
  pattern.angle = search.angle();
  pattern.v_low = search.sums.v_low(band);
  pattern.v_high = search.sums.v_high(band);
  return pattern;
}

double tests_in(const PeriodSearch& search) {
  std::size_t bands = 0;
  for (const auto& level : band_levels(search.sums.groups())) bands += level.size();
  return static_cast<double>(kSmoothings.size() * bands * kPeriodsTried);
}

std::vector<Hypothesis> search_smoothed(const PeriodSearch& search, const Profile& profile, const Hypothesis& pattern,
                                        double tests) {
  std::vector<Hypothesis> found;
  const Look look = look_at(profile, pattern, search.noise);
  if (look.edges.rising.size() + look.edges.falling.size() < 3) return found;
  const std::vector<double> spectral = spectral_periods(
      amplitude_spectrum({look.response.begin() + profile.begin, look.response.begin() + profile.end}), 3);
  search_edges(look.edges, periods_of(look.edges, spectral, search.periods), tests, pattern, found);
  const double strong = kStrongShare * strongest(look.edges);
  const Edges some{stronger_than(look.edges.rising, strong), stronger_than(look.edges.falling, strong)};
  if (strong > look.threshold &&
      10 * (some.rising.size() + some.falling.size()) < 9 * (look.edges.rising.size() + look.edges.falling.size()))
    search_edges(some, periods_of(some, spectral, search.periods), tests, pattern, found);
  return found;
}

void append(std::vector<std::vector<Hypothesis>> lists, std::vector<Hypothesis>& all) {
  for (auto& some : lists)
    for (Hypothesis& h : some) all.push_back(std::move(h));
}

std::vector<Hypothesis> search_band(const PeriodSearch& search, const Band& band, double tests) {
  std::vector<Hypothesis> found;
  const Profile profile = search.sums.profile(band);
  if (profile.end - profile.begin < 16) return found;
  std::vector<std::vector<Hypothesis>> smoothed(kSmoothings.size());
  oneapi::tbb::parallel_for(std::size_t{0}, kSmoothings.size(), [&](std::size_t i) {
    if (12.0 * kSmoothings[i] > profile.end - profile.begin) return;
    Hypothesis pattern = pattern_of(search, band);
    pattern.smoothing = kSmoothings[i];
    smoothed[i] = search_smoothed(search, profile, pattern, tests);
  });
  append(std::move(smoothed), found);
  return found;
}

// A straight edge along the pixel rows is a staircase in slanted strips, a step wherever a strip's border crosses a
// row.
bool of_the_rows(const Hypothesis& h) {
  const double stairs = h.lattice.pitch * std::abs(std::tan(h.angle)), whole = std::round(stairs);
  return whole >= 1.0 && whole <= kMostStairs && std::abs(stairs - whole) < kStairTolerance * whole;
}

double rank_of(const Hypothesis& h, double highest) {
  return std::max(h.lattice.log10_false_alarms, kCertain) + kFaintness * std::log10(highest / h.step) -
         (of_the_rows(h) ? kCertain : 0.0);
}

// Fewest false alarms first, what the pixel rows can make last. Beyond certainty it is the contrast that counts: a
// faint pattern of many lines may be an artefact of the strips or of the picture's coding, and is tried after the plain
// one.
void rank(std::vector<Hypothesis>& hypotheses) {
  double highest = 0.0;
  for (const Hypothesis& h : hypotheses) highest = std::max(highest, h.step);
  std::stable_sort(hypotheses.begin(), hypotheses.end(), [&](const Hypothesis& a, const Hypothesis& b) {
    const double ka = rank_of(a, highest), kb = rank_of(b, highest);
    return ka != kb ? ka < kb : a.lattice.log10_false_alarms < b.lattice.log10_false_alarms;
  });
}

void search_level(PeriodSearch& search, const std::vector<Band>& level) {
  const double tests = tests_in(search);
  std::vector<std::vector<Hypothesis>> found(level.size());
  oneapi::tbb::parallel_for(std::size_t{0}, level.size(),
                            [&](std::size_t b) { found[b] = search_band(search, level[b], tests); });
  append(std::move(found), search.hypotheses);
  rank(search.hypotheses);
  ++search.levels;
}

double strongest_step(const PeriodSearch& search) {
  constexpr double kSmoothing = 2.0;
  std::vector<double> steps(size_of(search.sums.groups()), 0.0);
  oneapi::tbb::parallel_for(0, search.sums.groups(), [&](int g) {
    Hypothesis pattern = pattern_of(search, {g, g + 1});
    pattern.smoothing = kSmoothing;
    const Profile& profile = search.sums.group_profile(g);
    if (profile.end - profile.begin >= 16)
      steps[size_of(g)] = step_of(strongest(look_at(profile, pattern, search.noise).edges), kSmoothing);
  });
  return *std::max_element(steps.begin(), steps.end());
}

double search_height(AlongRange range) { return std::clamp((range.high - range.low) / 48.0, 4.0, kStripHeight); }

PeriodSearch prepared(Strips strips, double noise, PeriodRange periods) {
  PeriodSearch search;
  search.strips = std::move(strips);
  search.sums = BandSums(search.strips, kMostGroups);
  search.noise = std::max(noise, noise_between(search.strips));
  search.periods = periods;
  return search;
}

bool certain(const PeriodSearch& search) {
  if (search.hypotheses.empty()) return false;
  const Hypothesis& leader = search.hypotheses.front();
  return leader.lattice.log10_false_alarms <= kCertain && leader.step >= kCertainStrength * search.strongest_step;
}

}  // namespace

PeriodSearch unsearched(const ImageView& image, double angle, double noise, AlongRange range) {
  return prepared(strips_over(image, angle, search_height(range), range), noise, {});
}

PeriodSearch search_period(const WorkingView& work, double angle, double noise, AlongRange range, PeriodRange periods) {
  PeriodSearch search = prepared(upright_strips(work, angle, noise, search_height(range), range), noise, periods);
  search.strongest_step = strongest_step(search);
  for (const std::vector<Band>& level : band_levels(search.sums.groups())) {
    search_level(search, level);
    if (certain(search)) break;
  }
  return search;
}

bool search_deeper(PeriodSearch& search) {
  const std::vector<std::vector<Band>> levels = band_levels(search.sums.groups());
  if (search.levels >= levels.size()) return false;
  while (search.levels < levels.size()) search_level(search, levels[search.levels]);
  return true;
}

std::vector<Hypothesis> search_for(const PeriodSearch& search, const std::vector<double>& periods) {
  std::vector<Band> bands;
  for (const auto& level : band_levels(search.sums.groups())) bands.insert(bands.end(), level.begin(), level.end());
  const double tests = tests_in(search), shortest = *std::min_element(periods.begin(), periods.end());
  std::vector<std::vector<Hypothesis>> found(bands.size());
  oneapi::tbb::parallel_for(std::size_t{0}, bands.size(), [&](std::size_t b) {
    const Profile profile = search.sums.profile(bands[b]);
    Hypothesis pattern = pattern_of(search, bands[b]);
    for (const double smoothing : kSmoothings) {
      if (12.0 * smoothing > profile.end - profile.begin || (smoothing > 1.0 && 4.0 * smoothing > shortest)) continue;
      pattern.smoothing = smoothing;
      search_edges(look_at(profile, pattern, search.noise).edges, periods, tests, pattern, found[b]);
    }
  });
  std::vector<Hypothesis> all;
  append(std::move(found), all);
  rank(all);
  return all;
}

}  // namespace scale
