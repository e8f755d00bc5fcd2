#include "ruling/period.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <oneapi/tbb/parallel_for.h>
#include <scale/units.h>
#include <Eigen/Dense>

namespace scale {

namespace {

constexpr std::array<double, 4> kSmoothings{0.8, 2.0, 5.0, 12.0};  // bins
constexpr int kMostGroups = 32;                                    // finest bands in one picture
constexpr double kStripHeight = 16.0;   // pixels; a degree and a half of error shifts it by less than half a bin
constexpr double kEdgeThreshold = 4.0;  // noise levels
constexpr double kStrongShare = 0.3;    // of the strongest edges, for the second set of edges
constexpr std::size_t kPeriodsTried = 8;
constexpr double kCertain = -20.0;    // log10 of false alarms, below which more does not matter
constexpr double kFaintness = 8.0;    // log10 of false alarms that a tenth of the contrast costs
constexpr double kLeastCount = 0.25;  // of the fullest bin: thinner bins are left out of a band

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

// ---- Setting the strips upright ----------------------------------------------------------------------------

std::vector<Edges> edges_of_strips(const Strips& strips, double noise) {
  std::vector<Edges> edges(size_of(strips.layout.count));
  oneapi::tbb::parallel_for(0, strips.layout.count, [&](int k) {
    const double low = strips.layout.v0 + k * strips.layout.height;
    const Profile profile = band_profile(strips, low, low + strips.layout.height);
    const double scale = 1.5;
    edges[size_of(k)] = edges_of(profile, edge_response(profile, scale),
                                 kEdgeThreshold * noise / std::sqrt(strips.layout.height) * edge_response_gain(scale));
  });
  return edges;
}

// Histogram of s(k + lag) - s(k) - expected over the nearest edges of equal sign, within +-reach; its peak.
struct Slip {
  double shift = 0.0;
  double weight = 0.0;
};

Slip common_slip(const std::vector<Edges>& edges, int lag, double expected, double reach) {
  constexpr double kBin = 0.05;
  const int half = static_cast<int>(std::ceil(reach / kBin));
  std::vector<double> votes(size_of(2 * half + 1), 0.0);
  const auto match = [&](const std::vector<Edge>& from, const std::vector<Edge>& to) {
    std::size_t j = 0;
    for (const Edge& edge : from) {
      const double target = edge.s + expected;
      while (j + 1 < to.size() && std::abs(to[j + 1].s - target) <= std::abs(to[j].s - target)) ++j;
      if (to.empty()) return;
      const int bin = static_cast<int>(std::lround((to[j].s - target) / kBin));
      if (std::abs(bin) <= half) votes[size_of(bin + half)] += std::min(edge.strength, to[j].strength);
    }
  };
  for (std::size_t k = 0; k + size_of(lag) < edges.size(); ++k) {
    match(edges[k].rising, edges[k + size_of(lag)].rising);
    match(edges[k].falling, edges[k + size_of(lag)].falling);
  }
  const int window = std::max(2, half / 8);
  Slip best;
  for (int b = 0; b <= 2 * half; ++b) {
    double sum = 0.0, moment = 0.0;
    for (int c = std::max(0, b - window); c <= std::min(2 * half, b + window); ++c) {
      const double weight = votes[size_of(c)] * (1.0 - std::abs(c - b) / (window + 1.0));
      sum += weight;
      moment += weight * (c - half);
    }
    if (sum > best.weight) best = {kBin * moment / sum, sum};
  }
  return best;
}

// How much the true slope of the graduations in these strips differs from the strips' own, in bins per pixel of v.
double slope_error(const std::vector<Edges>& edges, double height) {
  double slope = 0.0, reach = 1.4;
  for (int lag = 1; size_of(lag) < edges.size() && lag <= 32; lag *= 2) {
    const Slip slip = common_slip(edges, lag, slope * lag * height, reach);
    if (slip.weight <= 0.0) break;
    slope += slip.shift / (lag * height);
    reach = 1.0;
  }
  return slope;
}

}  // namespace

Strips strips_over(const ImageView& image, double angle, double height, AlongRange range) {
  StripLayout layout;
  layout.angle = angle;
  layout.v0 = range.low;
  layout.count = std::max(1, static_cast<int>(std::ceil((range.high - range.low) / height)));
  layout.height = (range.high - range.low) / layout.count;
  return sum_strips(image, layout);
}

namespace {

// ---- Bands -----------------------------------------------------------------------------------------------

struct Band {
  int from = 0, to = 0;  // strips
};

std::vector<Band> dyadic_bands(int strips) {
  const int groups = std::min(strips, kMostGroups);
  const auto strip_at = [&](int group) { return static_cast<int>(static_cast<long>(group) * strips / groups); };
  std::vector<Band> bands;
  for (int size = groups; size >= 1; size = size > 1 ? (size + 1) / 2 : 0) {
    const int step = std::max(1, size / 2);
    for (int g = 0; g + size <= groups; g += step) bands.push_back({strip_at(g), strip_at(g + size)});
  }
  return bands;
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

void search_edges(const Edges& edges, const std::vector<double>& spectral, double tests, const Hypothesis& pattern,
                  std::vector<Hypothesis>& found) {
  std::vector<double> periods = candidate_pitches(edges.rising, kPeriodsTried);
  for (const std::vector<double>& more : {candidate_pitches(edges.falling, kPeriodsTried), spectral})
    periods.insert(periods.end(), more.begin(), more.end());
  std::vector<double> seen;
  for (const double period : periods) {
    if (std::any_of(seen.begin(), seen.end(), [&](double s) { return std::abs(s - period) < 0.01 * period; })) continue;
    seen.push_back(period);
    Hypothesis hypothesis = pattern;
    hypothesis.lattice =
        join(best_lattice(edges.rising, period, tests), best_lattice(edges.falling, period, tests), hypothesis.rising);
    if (hypothesis.lattice.index.size() < 3 || hypothesis.lattice.log10_false_alarms > 0.0) continue;
    // The height of a step whose steepest slope, smoothed, is this.
    hypothesis.step = hypothesis.lattice.strength * std::sqrt(2.0 * kPi) * std::hypot(pattern.smoothing, 0.8);
    found.push_back(std::move(hypothesis));
  }
}

// The noise of a profile that merges `rows` rows; rounding to whole grey values keeps it off zero.
double profile_noise(double noise, double rows) { return std::max(noise, 0.3) / std::sqrt(std::max(1.0, rows)); }

std::vector<Hypothesis> search_band(const Strips& strips, const Band& band, double noise, double tests) {
  std::vector<Hypothesis> found;
  Hypothesis pattern;
  pattern.angle = strips.layout.angle;
  pattern.v_low = strips.layout.v0 + band.from * strips.layout.height;
  pattern.v_high = strips.layout.v0 + band.to * strips.layout.height;
  const Profile profile = band_profile(strips, pattern.v_low, pattern.v_high);
  if (profile.end - profile.begin < 16) return found;
  for (const double smoothing : kSmoothings) {
    if (12.0 * smoothing > profile.end - profile.begin) continue;
    pattern.smoothing = smoothing;
    const std::vector<float> response = edge_response(profile, smoothing);
    const double threshold =
        kEdgeThreshold * profile_noise(noise, pattern.v_high - pattern.v_low) * edge_response_gain(smoothing);
    const Edges edges = edges_of(profile, response, threshold);
    const double strong = kStrongShare * strongest(edges);
    const std::vector<double> spectral =
        spectral_periods(amplitude_spectrum({response.begin() + profile.begin, response.begin() + profile.end}), 3);
    search_edges(edges, spectral, tests, pattern, found);
    const Edges some{stronger_than(edges.rising, strong), stronger_than(edges.falling, strong)};
    if (strong > threshold &&
        10 * (some.rising.size() + some.falling.size()) < 9 * (edges.rising.size() + edges.falling.size()))
      search_edges(some, spectral, tests, pattern, found);
  }
  return found;
}

// Fewest false alarms first, but beyond certainty it is the contrast that counts: a faint pattern of many lines may
// be an artefact of the strips or of the picture's coding, and is tried after the plain one.
void rank(std::vector<Hypothesis>& hypotheses) {
  double highest = 0.0;
  for (const Hypothesis& h : hypotheses) highest = std::max(highest, h.step);
  const auto key = [highest](const Hypothesis& h) {
    return std::max(h.lattice.log10_false_alarms, kCertain) + kFaintness * std::log10(highest / h.step);
  };
  std::stable_sort(hypotheses.begin(), hypotheses.end(), [&](const Hypothesis& a, const Hypothesis& b) {
    const double ka = key(a), kb = key(b);
    return ka != kb ? ka < kb : a.lattice.log10_false_alarms < b.lattice.log10_false_alarms;
  });
}

// ---- Parts of a period -------------------------------------------------------------------------------------

constexpr int kMostParts = 20;
constexpr double kPartLikeness = 0.7;        // of the correlation at lag 0, at every multiple of the part
constexpr double kLeastAgreement = 0.5;      // correlation of even with odd periods
constexpr double kLeastPartStrength = 0.05;  // of the strongest band's folded amplitude

struct Folded {
  std::vector<double> even, odd;  // mean 0
  double power = 0.0;             // their cross product at lag 0, per bin
};

// The profile at s, by a cubic through four bins (Catmull and Rom): a straight line would flatten periods of three
// bins.
double value_at(const Profile& profile, double s) {
  const double place = s - profile.first;
  const int i = std::clamp(static_cast<int>(std::floor(place)), profile.begin + 1, profile.end - 3);
  const double f = place - i;
  const auto y = [&](int k) { return static_cast<double>(profile.value[size_of(i + k)]); };
  return y(0) + 0.5 * f *
                    (y(1) - y(-1) +
                     f * (2.0 * y(-1) - 5.0 * y(0) + 4.0 * y(1) - y(2) + f * (3.0 * (y(0) - y(1)) + y(2) - y(-1))));
}

// The lattice's places, straight through its edges (a parabola from eight on): single edges wander.
Lattice evened(const Lattice& lattice) {
  const double middle = 0.5 * lattice.index.back();
  const Eigen::Index n = static_cast<Eigen::Index>(lattice.index.size()), terms = n >= 8 ? 3 : 2;
  Eigen::MatrixXd design(n, terms);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index k = 0; k < terms; ++k)
      design(i, k) = std::pow(lattice.index[static_cast<std::size_t>(i)] - middle, static_cast<double>(k));
  const Eigen::Map<const Eigen::VectorXd> observed(lattice.position.data(), n);
  const Eigen::VectorXd even = design * design.colPivHouseholderQr().solve(observed);
  Lattice result = lattice;
  std::copy(even.data(), even.data() + n, result.position.begin());
  return result;
}

// Folds the profile between the lattice's lines; each period's own mean is taken out.
Folded fold_periods(const Profile& profile, const Lattice& lattice, int bins) {
  if (profile.end - profile.begin < 8) return {};
  const std::size_t n = size_of(bins);
  std::vector<std::vector<double>> sum(2, std::vector<double>(n, 0.0));
  std::array<double, 2> cells_used{};
  std::vector<double> cell(n);
  for (std::size_t k = 0; k + 1 < lattice.index.size(); ++k) {
    const int cells = lattice.index[k + 1] - lattice.index[k];
    const double step = (lattice.position[k + 1] - lattice.position[k]) / cells;
    for (int c = 0; c < cells; ++c) {
      const double from = lattice.position[k] + c * step;
      if (from < profile.first + profile.begin + 1 || from + step > profile.first + profile.end - 2) continue;
      double mean = 0.0;
      for (std::size_t b = 0; b < n; ++b) {
        cell[b] = value_at(profile, from + step * static_cast<double>(b) / bins);
        mean += cell[b] / bins;
      }
      const std::size_t half = size_of((lattice.index[k] + c) & 1);
      for (std::size_t b = 0; b < n; ++b) sum[half][b] += cell[b] - mean;
      cells_used[half] += 1.0;
    }
  }
  Folded folded;
  if (cells_used[0] < 1.0 || cells_used[1] < 1.0) return folded;
  for (std::size_t half = 0; half < 2; ++half)
    for (double& v : sum[half]) v /= cells_used[half];
  folded.even = sum[0];
  folded.odd = sum[1];
  for (std::size_t b = 0; b < n; ++b) folded.power += folded.even[b] * folded.odd[b] / bins;
  return folded;
}

// Cross-correlation of even and odd at a lag of so many bins (linear between bins), over both orders.
double correlation_at(const Folded& folded, double lag) {
  const std::size_t n = folded.even.size(), whole = static_cast<std::size_t>(lag);
  const double f = lag - static_cast<double>(whole);
  double sum = 0.0;
  for (std::size_t b = 0; b < n; ++b) {
    const std::size_t i = (b + whole) % n, j = (i + 1) % n;
    sum += folded.even[b] * ((1.0 - f) * folded.odd[i] + f * folded.odd[j]) +
           folded.odd[b] * ((1.0 - f) * folded.even[i] + f * folded.even[j]);
  }
  return 0.5 * sum / static_cast<double>(n);
}

int parts_in(const Folded& folded, double period) {
  double even = 0.0, odd = 0.0;
  for (std::size_t b = 0; b < folded.even.size(); ++b)
    even += folded.even[b] * folded.even[b], odd += folded.odd[b] * folded.odd[b];
  const double bins = static_cast<double>(folded.even.size());
  if (!(folded.power * bins > kLeastAgreement * std::sqrt(even * odd))) return 1;
  for (int parts = kMostParts; parts >= 2; --parts) {
    const double part = period / parts;
    if (part < 2.2 || std::abs(part - 8.0) < 0.02 || std::abs(part - 16.0) < 0.02)
      continue;  // 8, 16: a JPEG's own blocks
    double least = folded.power;
    for (int j = 1; j < parts; ++j) least = std::min(least, correlation_at(folded, bins * j / parts));
    if (least > kPartLikeness * folded.power) return parts;
  }
  return 1;
}

}  // namespace

Hypothesis finest_division(const Strips& strips, const Hypothesis& hypothesis) {
  const double period = hypothesis.lattice.pitch;
  const int bins = std::clamp(static_cast<int>(4.0 * period), 24, 512);
  struct BandFold {
    Band band;
    Folded folded;
    int parts = 1;
  };
  const Lattice lattice = evened(hypothesis.lattice);
  std::vector<BandFold> folds;
  for (const Band& band : dyadic_bands(strips.layout.count)) folds.push_back({band, {}, 1});
  oneapi::tbb::parallel_for(std::size_t{0}, folds.size(), [&](std::size_t i) {
    const double low = strips.layout.v0 + folds[i].band.from * strips.layout.height;
    const double high = strips.layout.v0 + folds[i].band.to * strips.layout.height;
    folds[i].folded = fold_periods(band_profile(strips, low, high), lattice, bins);
    if (!folds[i].folded.even.empty()) folds[i].parts = parts_in(folds[i].folded, period);
  });
  double strongest_power = 0.0;
  for (const BandFold& fold : folds) strongest_power = std::max(strongest_power, fold.folded.power);
  const BandFold* best = nullptr;
  for (const BandFold& fold : folds) {
    if (fold.parts < 2 || fold.folded.power < kLeastPartStrength * kLeastPartStrength * strongest_power) continue;
    const auto weight = [](const BandFold& f) { return f.folded.power * (f.band.to - f.band.from); };
    if (best == nullptr || fold.parts > best->parts || (fold.parts == best->parts && weight(fold) > weight(*best)))
      best = &fold;
  }
  Hypothesis finer = hypothesis;
  if (best == nullptr) return finer;
  finer.lattice.pitch /= best->parts;
  for (int& index : finer.lattice.index) index *= best->parts;
  finer.v_low = strips.layout.v0 + best->band.from * strips.layout.height;
  finer.v_high = strips.layout.v0 + best->band.to * strips.layout.height;
  return finer;
}

Profile band_profile(const Strips& strips, double v_low, double v_high) {
  const int from = std::max(0, static_cast<int>(std::lround((v_low - strips.layout.v0) / strips.layout.height)));
  const int to =
      std::min(strips.layout.count, static_cast<int>(std::lround((v_high - strips.layout.v0) / strips.layout.height)));
  Profile profile;
  profile.first = strips.first;
  const std::size_t bins = size_of(strips.bins);
  std::vector<float> count(bins, 0.0F);
  profile.value.assign(bins, 0.0F);
  profile.remainder.assign(bins, 0.0F);
  for (int k = from; k < to; ++k)
    for (int phase = 0; phase < strips.layout.phases; ++phase) {
      const std::size_t at = strips.at(k, phase);
      for (std::size_t b = 0; b < bins; ++b) {
        const float n = strips.count[at + b];
        count[b] += n;
        profile.value[b] += n * strips.mean[at + b];
        profile.remainder[b] += n * strips.remainder[at + b];
      }
    }
  const float least = static_cast<float>(kLeastCount) * *std::max_element(count.begin(), count.end());
  // The longest stretch without thin bins.
  int begin = 0;
  for (int b = 0; b <= strips.bins; ++b) {
    const bool full = b < strips.bins && count[size_of(b)] > 0.0F && count[size_of(b)] >= least;
    if (full) {
      profile.value[size_of(b)] /= count[size_of(b)];
      profile.remainder[size_of(b)] /= count[size_of(b)];
      continue;
    }
    if (b - begin > profile.end - profile.begin) profile.begin = begin, profile.end = b;
    begin = b + 1;
  }
  return profile;
}

double search_height(AlongRange range) { return std::clamp((range.high - range.low) / 48.0, 4.0, kStripHeight); }

PeriodSearch search_period(const ImageView& image, double angle, double noise, AlongRange range) {
  PeriodSearch search;
  search.angle = angle;
  const double height = search_height(range);
  Strips strips = strips_over(image, search.angle, height, range);
  for (int pass = 0; pass < 2; ++pass) {
    const double error = slope_error(edges_of_strips(strips, noise), strips.layout.height);
    // s grows by `error` per pixel of v: the lines lean by that much more than the shear took out.
    const double turn = std::atan(error * std::cos(search.angle));
    if (std::abs(turn) < 2e-6) break;
    const double corrected = search.angle - turn;
    if (std::abs(corrected) > 0.85) break;
    search.angle = corrected;
    strips = strips_over(image, search.angle, height, range);
  }
  search.strips = std::move(strips);
  const std::vector<Band> bands = dyadic_bands(search.strips.layout.count);
  const double tests = 4.0 * static_cast<double>(bands.size()) * static_cast<double>(kPeriodsTried);
  std::vector<std::vector<Hypothesis>> found(bands.size());
  oneapi::tbb::parallel_for(std::size_t{0}, bands.size(),
                            [&](std::size_t b) { found[b] = search_band(search.strips, bands[b], noise, tests); });
  for (auto& some : found)
    for (Hypothesis& h : some) search.hypotheses.push_back(std::move(h));
  rank(search.hypotheses);
  return search;
}

}  // namespace scale
