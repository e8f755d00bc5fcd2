#include "ruling/lattice.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Dense>

namespace scale {

namespace {

constexpr double kLeastPitch = 2.2;       // bins; nearer the sampling limit lines cannot be told apart
constexpr double kBinRatio = 1.02;        // width of a candidate's histogram bin
constexpr int kNeighbours = 4;            // distances to so many next edges vote
constexpr int kLongestStep = 3;           // periods a chain may jump over missing edges
constexpr double kLocalTolerance = 0.06;  // of the period, for the first pass with a rough period
constexpr double kLeastTolerance = 0.45;  // bins: what an edge of a noisy profile wanders
constexpr double kMostTolerance = 0.2;    // of the period

double local_tolerance(double pitch) {
  return std::min(std::max(kLeastTolerance, kLocalTolerance * pitch), kMostTolerance * pitch);
}

// Positions in `edges` of the chain with the most members; a jump costs half a member per missing edge.
struct Chain {
  std::vector<std::size_t> edge;
  std::vector<int> index;
};

Chain longest_chain(const std::vector<Edge>& edges, double pitch) {
  const double tolerance = local_tolerance(pitch);
  const std::size_t n = edges.size();
  std::vector<double> score(n, 1.0);
  std::vector<std::ptrdiff_t> before(n, -1);
  std::vector<int> step(n, 0);
  std::size_t best = 0;
  for (std::size_t j = 1; j < n; ++j) {
    double closest = std::numeric_limits<double>::infinity();
    for (std::size_t i = j; i-- > 0;) {
      const double distance = edges[j].s - edges[i].s;
      if (distance > kLongestStep * pitch + tolerance) break;
      const int periods = static_cast<int>(std::lround(distance / pitch));
      if (periods < 1) continue;
      const double deviation = std::abs(distance - periods * pitch);
      if (deviation > tolerance) continue;
      const double gained = score[i] + 1.0 - 0.5 * (periods - 1) - 0.2 * deviation / tolerance;
      if (gained > score[j] || (gained == score[j] && deviation < closest)) {
        score[j] = gained;
        before[j] = static_cast<std::ptrdiff_t>(i);
        step[j] = periods;
        closest = deviation;
      }
    }
    if (score[j] > score[best]) best = j;
  }
  Chain chain;
  if (n == 0) return chain;
  for (std::ptrdiff_t at = static_cast<std::ptrdiff_t>(best); at >= 0; at = before[static_cast<std::size_t>(at)])
    chain.edge.push_back(static_cast<std::size_t>(at));
  std::reverse(chain.edge.begin(), chain.edge.end());
  int index = 0;
  for (std::size_t k = 0; k < chain.edge.size(); ++k) {
    if (k > 0) index += step[chain.edge[k]];
    chain.index.push_back(index);
  }
  return chain;
}

// Fits position over index; returns the residuals. Degree 1, or 2 from eight members on.
Eigen::VectorXd fit_chain(const std::vector<int>& index, const std::vector<double>& position, double& pitch) {
  const Eigen::Index n = static_cast<Eigen::Index>(index.size());
  const int degree = n >= 8 ? 2 : 1;
  const double middle = 0.5 * (index.front() + index.back());
  Eigen::MatrixXd design(n, degree + 1);
  Eigen::VectorXd observed(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double z = index[static_cast<std::size_t>(i)] - middle;
    design(i, 0) = 1.0;
    design(i, 1) = z;
    if (degree == 2) design(i, 2) = z * z;
    observed(i) = position[static_cast<std::size_t>(i)];
  }
  const Eigen::VectorXd solution = design.colPivHouseholderQr().solve(observed);
  pitch = solution(1);
  return observed - design * solution;
}

double log10_tail_bound(double trials, double successes, double q) {
  const double share = successes / trials;
  if (trials <= 0.0 || share <= q) return 0.0;
  const double first = share * std::log(share / q);
  const double second = share < 1.0 ? (1.0 - share) * std::log((1.0 - share) / (1.0 - q)) : 0.0;
  return -trials * (first + second) / std::log(10.0);
}

void judge(Lattice& lattice, const std::vector<Edge>& edges, double tests) {
  const double cells = lattice.index.back() + 1.0, hits = static_cast<double>(lattice.index.size());
  lattice.occupancy = hits / cells;
  const double from = lattice.position.front() - 0.5 * lattice.pitch,
               to = lattice.position.back() + 0.5 * lattice.pitch;
  const auto inside =
      std::count_if(edges.begin(), edges.end(), [&](const Edge& e) { return e.s >= from && e.s <= to; });
  const double density = static_cast<double>(inside) / (to - from);
  const double delta = std::max(0.25, 3.0 * lattice.residual_rms);
  const double q = std::min(1.0 - 1e-9, 1.0 - std::exp(-2.0 * delta * density));
  const double fitted = hits >= 8.0 ? 3.0 : 2.0;
  lattice.log10_false_alarms =
      std::log10(tests * static_cast<double>(edges.size())) + log10_tail_bound(cells - fitted, hits - fitted, q);
  lattice.log10_tail = log10_tail_bound(cells - 1.0, hits - 1.0, q);
}

}  // namespace

std::vector<double> candidate_pitches(const std::vector<Edge>& edges, std::size_t most) {
  if (edges.size() < 3) return {};
  const double span = edges.back().s - edges.front().s;
  if (span <= kLeastPitch) return {};
  const std::size_t bins = static_cast<std::size_t>(std::log(span / kLeastPitch) / std::log(kBinRatio)) + 3;
  std::vector<double> votes(bins, 0.0), sums(bins, 0.0);
  for (std::size_t i = 0; i < edges.size(); ++i)
    for (std::size_t k = 1; k <= kNeighbours && i + k < edges.size(); ++k) {
      const double distance = edges[i + k].s - edges[i].s;
      if (distance < kLeastPitch) continue;
      const std::size_t bin =
          std::min(bins - 1, static_cast<std::size_t>(std::log(distance / kLeastPitch) / std::log(kBinRatio)));
      votes[bin] += 1.0;
      sums[bin] += distance;
    }
  struct Peak {
    double votes, pitch;
  };
  std::vector<Peak> peaks;
  for (std::size_t b = 0; b < bins; ++b) {
    const std::size_t low = b > 0 ? b - 1 : b, high = std::min(bins - 1, b + 1);
    double near = 0.0, sum = 0.0;
    for (std::size_t c = low; c <= high; ++c) near += votes[c], sum += sums[c];
    if (near < 2.0 || votes[b] < votes[low] || votes[b] < votes[high]) continue;
    peaks.push_back({near, sum / near});
  }
  std::stable_sort(peaks.begin(), peaks.end(), [](const Peak& a, const Peak& b) { return a.votes > b.votes; });
  std::vector<double> pitches;
  for (const Peak& peak : peaks) {
    if (pitches.size() >= most) break;
    pitches.push_back(peak.pitch);
  }
  return pitches;
}

Lattice join(Lattice rising, Lattice falling, bool& rising_leads) {
  if (falling.index.empty() || rising.index.empty()) {
    rising_leads = falling.index.empty();
    return rising_leads ? rising : falling;
  }
  rising_leads = rising.log10_false_alarms <= falling.log10_false_alarms;
  Lattice& leader = rising_leads ? rising : falling;
  const Lattice& other = rising_leads ? falling : rising;
  const double slack = std::max(0.5, 3.0 * (leader.residual_rms + other.residual_rms));
  if (std::abs(leader.pitch - other.pitch) * std::max(leader.index.back(), other.index.back()) <
      slack + 0.01 * leader.pitch)
    leader.log10_false_alarms += other.log10_tail;
  return leader;
}

Lattice best_lattice(const std::vector<Edge>& edges, double pitch, double tests) {
  Lattice lattice;
  if (edges.size() < 3 || pitch < kLeastPitch) return lattice;
  Chain chain;
  for (int pass = 0; pass < 2; ++pass) {  // the second pass with the period that the first one fitted
    chain = longest_chain(edges, pitch);
    if (chain.edge.size() < 3) return lattice;
    std::vector<double> position;
    for (const std::size_t e : chain.edge) position.push_back(edges[e].s);
    fit_chain(chain.index, position, pitch);
    if (!(pitch >= kLeastPitch)) return lattice;
  }
  for (std::size_t k = 0; k < chain.edge.size(); ++k) {
    lattice.index.push_back(chain.index[k]);
    lattice.position.push_back(edges[chain.edge[k]].s);
    lattice.edge_strength.push_back(edges[chain.edge[k]].strength);
  }
  const Eigen::VectorXd residual = fit_chain(lattice.index, lattice.position, lattice.pitch);
  const double freedom =
      std::max<double>(1.0, static_cast<double>(residual.size()) - (residual.size() >= 8 ? 3.0 : 2.0));
  lattice.residual_rms = std::sqrt(residual.squaredNorm() / freedom);
  std::vector<double> strengths = lattice.edge_strength;
  std::nth_element(strengths.begin(), strengths.begin() + static_cast<std::ptrdiff_t>(strengths.size() / 2),
                   strengths.end());
  lattice.strength = strengths[strengths.size() / 2];
  judge(lattice, edges, tests);
  return lattice;
}

}  // namespace scale
