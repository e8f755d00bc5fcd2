#include "ruling/division.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <oneapi/tbb/parallel_for.h>
#include <Eigen/Dense>

namespace scale {

namespace {

constexpr int kMostParts = 20;
constexpr double kBinsPerPixel = 4.0, kEnoughBins = 128.0;  // from which on half as many do
constexpr double kPartLikeness = 0.7;        // of the correlation at lag 0, at every multiple of the part
constexpr double kLeastAgreement = 0.5;      // correlation of even with odd periods
constexpr double kLeastPartStrength = 0.05;  // of the strongest band's folded amplitude

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

// A cubic through four samples (Catmull and Rom), so far from the second to the third: a straight line would flatten
// periods of three bins.
float between(const float* y, float f) {
  const float a = y[0], b = y[1], c = y[2], d = y[3];
  return b + 0.5F * f * (c - a + f * (2.0F * a - 5.0F * b + 4.0F * c - d + f * (3.0F * (b - c) + d - a)));
}

// The cells of the lattice, straight through its edges (a parabola from eight on): single edges wander.
struct Cell {
  double from = 0.0, step = 0.0;
  bool odd = false;
};

std::vector<Cell> cells_of(const Lattice& lattice) {
  const double middle = 0.5 * lattice.index.back();
  const Eigen::Index n = static_cast<Eigen::Index>(lattice.index.size()), terms = n >= 8 ? 3 : 2;
  Eigen::MatrixXd design(n, terms);
  for (Eigen::Index i = 0; i < n; ++i) {
    double power = 1.0;
    for (Eigen::Index k = 0; k < terms; ++k, power *= lattice.index[static_cast<std::size_t>(i)] - middle)
      design(i, k) = power;
  }
  const Eigen::Map<const Eigen::VectorXd> observed(lattice.position.data(), n);
  const Eigen::VectorXd even = design * design.colPivHouseholderQr().solve(observed);
  std::vector<Cell> cells;
  for (Eigen::Index i = 0; i + 1 < n; ++i) {
    const std::size_t k = static_cast<std::size_t>(i);
    const int periods = lattice.index[k + 1] - lattice.index[k];
    const double step = (even(i + 1) - even(i)) / periods;
    for (int c = 0; c < periods; ++c) cells.push_back({even(i) + c * step, step, ((lattice.index[k] + c) & 1) != 0});
  }
  return cells;
}

struct Folded {
  std::array<std::vector<double>, 2> sum;  // of even and of odd cells, each cell's own mean taken out
  std::array<double, 2> weight{};          // pixels per bin
  double power = 0.0;                      // cross product of both means at lag 0, per bin

  explicit Folded(std::size_t bins) : sum{std::vector<double>(bins, 0.0), std::vector<double>(bins, 0.0)} {}
};

// One group of strips. A point at (s, v) of the lattice's own frame lies at s + turn * y in that of the strips.
Folded fold_group(const Profile& profile, const std::vector<Cell>& cells, double shift, double stretch, double height,
                  std::size_t bins) {
  Folded folded(bins);
  if (profile.end - profile.begin < 8) return folded;
  std::vector<float> values(bins), fractions(bins);
  std::vector<int> places(bins);
  for (const Cell& cell : cells) {
    const double from = cell.from * stretch + shift, step = cell.step * stretch;
    if (from < profile.first + profile.begin + 1 || from + step > profile.first + profile.end - 2) continue;
    const double by = step / static_cast<double>(bins);
    for (std::size_t b = 0; b < bins; ++b) {
      const double place = from - profile.first + by * static_cast<double>(b);
      places[b] = static_cast<int>(place);
      fractions[b] = static_cast<float>(place - places[b]);
    }
    double mean = 0.0;
    for (std::size_t b = 0; b < bins; ++b) {
      values[b] = between(profile.value.data() + places[b] - 1, fractions[b]);
      mean += static_cast<double>(values[b]);
    }
    mean /= static_cast<double>(bins);
    std::vector<double>& sum = folded.sum[cell.odd];
    for (std::size_t b = 0; b < bins; ++b) sum[b] += height * (static_cast<double>(values[b]) - mean);
    folded.weight[cell.odd] += height;
  }
  return folded;
}

// Running sums over the groups.
std::vector<Folded> fold_groups(const BandSums& sums, const Hypothesis& hypothesis, std::size_t bins) {
  const std::vector<Cell> cells = cells_of(hypothesis.lattice);
  const double turn = std::tan(sums.angle()) - std::tan(hypothesis.angle);
  const double along = turn * std::cos(hypothesis.angle), stretch = 1.0 + along * std::sin(hypothesis.angle);
  std::vector<Folded> running(size_of(sums.groups() + 1), Folded(bins));
  oneapi::tbb::parallel_for(0, sums.groups(), [&](int g) {
    const Band group{g, g + 1};
    const double middle = 0.5 * (sums.v_low(group) + sums.v_high(group));
    running[size_of(g + 1)] =
        fold_group(sums.group_profile(g), cells, along * middle, stretch, sums.height(group), bins);
  });
  for (std::size_t g = 1; g < running.size(); ++g)
    for (std::size_t half = 0; half < 2; ++half) {
      for (std::size_t b = 0; b < bins; ++b) running[g].sum[half][b] += running[g - 1].sum[half][b];
      running[g].weight[half] += running[g - 1].weight[half];
    }
  return running;
}

Folded means_between(const Folded& low, const Folded& high) {
  const std::size_t bins = low.sum[0].size();
  Folded means(bins);
  for (std::size_t half = 0; half < 2; ++half) {
    means.weight[half] = high.weight[half] - low.weight[half];
    if (!(means.weight[half] > 0.0)) return Folded(bins);
    for (std::size_t b = 0; b < bins; ++b)
      means.sum[half][b] = (high.sum[half][b] - low.sum[half][b]) / means.weight[half];
  }
  for (std::size_t b = 0; b < bins; ++b) means.power += means.sum[0][b] * means.sum[1][b] / static_cast<double>(bins);
  return means;
}

// Cross-correlation of even and odd at a lag of so many bins (linear between bins), over both orders.
double correlation_at(const Folded& means, double lag) {
  const std::vector<double>&even = means.sum[0], &odd = means.sum[1];
  const std::size_t n = even.size(), whole = static_cast<std::size_t>(lag);
  const double f = lag - static_cast<double>(whole);
  double sum = 0.0;
  std::size_t i = whole % n;
  for (std::size_t b = 0; b < n; ++b) {
    const std::size_t j = i + 1 == n ? 0 : i + 1;
    sum += even[b] * ((1.0 - f) * odd[i] + f * odd[j]) + odd[b] * ((1.0 - f) * even[i] + f * even[j]);
    i = j;
  }
  return 0.5 * sum / static_cast<double>(n);
}

bool has_parts(const Folded& means, int parts) {
  const double bins = static_cast<double>(means.sum[0].size());
  for (int j = 1; j < parts; ++j)
    if (correlation_at(means, bins * j / parts) <= kPartLikeness * means.power) return false;
  return true;
}

int parts_in(const Folded& means, double period) {
  double even = 0.0, odd = 0.0;
  for (const double v : means.sum[0]) even += v * v;
  for (const double v : means.sum[1]) odd += v * v;
  const double bins = static_cast<double>(means.sum[0].size());
  if (!(means.power * bins > kLeastAgreement * std::sqrt(even * odd))) return 1;
  for (int parts = kMostParts; parts >= 2; --parts) {
    const double part = period / parts;
    const bool of_coding = std::abs(part - 8.0) < 0.02 || std::abs(part - 16.0) < 0.02;  // a JPEG's own blocks
    if (part >= kLeastPart && !of_coding && has_parts(means, parts)) return parts;
  }
  return 1;
}

}  // namespace

Hypothesis finest_division(const BandSums& sums, const Hypothesis& hypothesis) {
  const double period = hypothesis.lattice.pitch;
  const double fine = std::min(kBinsPerPixel * period, std::max(kEnoughBins, 0.5 * kBinsPerPixel * period));
  const std::size_t bins = size_of(std::clamp(static_cast<int>(fine), 24, 512));
  const std::vector<Folded> running = fold_groups(sums, hypothesis, bins);
  std::vector<Band> bands;
  std::vector<Folded> means;
  double strongest = 0.0;
  for (const std::vector<Band>& level : band_levels(sums.groups()))
    for (const Band& band : level) {
      bands.push_back(band);
      means.push_back(means_between(running[size_of(band.from)], running[size_of(band.to)]));
      strongest = std::max(strongest, means.back().power);
    }
  std::vector<int> parts(bands.size(), 1);
  oneapi::tbb::parallel_for(std::size_t{0}, bands.size(), [&](std::size_t i) {
    if (means[i].power >= kLeastPartStrength * kLeastPartStrength * strongest) parts[i] = parts_in(means[i], period);
  });
  const auto weight = [&](std::size_t i) { return means[i].power * (bands[i].to - bands[i].from); };
  std::size_t best = 0;
  for (std::size_t i = 1; i < bands.size(); ++i)
    if (parts[i] > parts[best] || (parts[i] == parts[best] && weight(i) > weight(best))) best = i;
  Hypothesis finer = hypothesis;
  if (parts[best] < 2) return finer;
  finer.lattice.pitch /= parts[best];
  for (int& index : finer.lattice.index) index *= parts[best];
  finer.v_low = sums.v_low(bands[best]);
  finer.v_high = sums.v_high(bands[best]);
  return finer;
}

}  // namespace scale
