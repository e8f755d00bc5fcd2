#include "ruling/lattice.h"

#include <algorithm>
#include <array>
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
  std::array<std::size_t, kLongestStep> window{};  // the first edge that each step may reach back to
  std::size_t best = 0;
  for (std::size_t j = 1; j < n; ++j) {
    double closest = std::numeric_limits<double>::infinity();
    for (int periods = 1; periods <= kLongestStep; ++periods) {
      const double target = edges[j].s - periods * pitch;
      std::size_t& from = window[static_cast<std::size_t>(periods - 1)];
      while (edges[from].s < target - tolerance) ++from;
      for (std::size_t i = from; i < j && edges[i].s <= target + tolerance; ++i) {
        const double deviation = std::abs(edges[i].s - target);
        const double gained = score[i] + 1.0 - 0.5 * (periods - 1) - 0.2 * deviation / tolerance;
        if (gained > score[j] || (gained == score[j] && deviation < closest)) {
          score[j] = gained;
          before[j] = static_cast<std::ptrdiff_t>(i);
          step[j] = periods;
          closest = deviation;
        }
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

// Fits position over index, degree 1, or 2 from eight members on; sets the pitch at the middle and returns the sum of
// squared residuals. Normal equations in a centred variable of size one are well conditioned at this degree.
double fit_chain(const std::vector<int>& index, const std::vector<double>& position, double& pitch) {
  const double middle = 0.5 * (index.front() + index.back()), half = std::max(1.0, index.back() - middle);
  const double start = position.front();
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  const auto basis = [&](std::size_t i) {
    const double z = (index[i] - middle) / half;
    return Eigen::Vector3d(1.0, z, z * z);
  };
  for (std::size_t i = 0; i < index.size(); ++i) {
    const Eigen::Vector3d row = basis(i);
    normal += row * row.transpose();
    right += (position[i] - start) * row;
  }
  Eigen::Vector3d solution = Eigen::Vector3d::Zero();
  if (index.size() >= 8)
    solution = normal.ldlt().solve(right);
  else
    solution.head<2>() = normal.topLeftCorner<2, 2>().ldlt().solve(right.head<2>());
  pitch = solution(1) / half;
  double squares = 0.0;
  for (std::size_t i = 0; i < index.size(); ++i) {
    const double residual = position[i] - start - basis(i).dot(solution);
    squares += residual * residual;
  }
  return squares;
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

double log10_tail_bound(double trials, double successes, double q) {
  const double share = successes / trials;
  if (trials <= 0.0 || share <= q) return 0.0;
  const double first = share * std::log(share / q);
  const double second = share < 1.0 ? (1.0 - share) * std::log((1.0 - share) / (1.0 - q)) : 0.0;
  return -trials * (first + second) / std::log(10.0);
}

std::vector<double> candidate_pitches(const Edges& edges, std::size_t most) {
  double span = 0.0;
  for (const auto* set : {&edges.rising, &edges.falling})
    if (set->size() >= 3) span = std::max(span, set->back().s - set->front().s);
  if (span <= kLeastPitch) return {};
  const std::size_t bins = static_cast<std::size_t>(std::log(span / kLeastPitch) / std::log(kBinRatio)) + 3;
  std::vector<double> votes(bins, 0.0), sums(bins, 0.0);
  const auto vote = [&](double distance) {
    if (distance < kLeastPitch) return;
    const std::size_t bin =
        std::min(bins - 1, static_cast<std::size_t>(std::log(distance / kLeastPitch) / std::log(kBinRatio)));
    votes[bin] += 1.0;
    sums[bin] += distance;
  };
  for (const auto* set : {&edges.rising, &edges.falling})
    for (std::size_t i = 0; i < set->size(); ++i)
      for (std::size_t k = 1; k <= kNeighbours && i + k < set->size(); ++k) vote((*set)[i + k].s - (*set)[i].s);
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
  const double squares = fit_chain(lattice.index, lattice.position, lattice.pitch);
  const double members = static_cast<double>(lattice.index.size());
  lattice.residual_rms = std::sqrt(squares / std::max(1.0, members - (members >= 8.0 ? 3.0 : 2.0)));
  std::vector<double> strengths = lattice.edge_strength;
  std::nth_element(strengths.begin(), strengths.begin() + static_cast<std::ptrdiff_t>(strengths.size() / 2),
                   strengths.end());
  lattice.strength = strengths[strengths.size() / 2];
  judge(lattice, edges, tests);
  return lattice;
}

}  // namespace scale
