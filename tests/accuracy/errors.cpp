#include "errors.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "allowance.h"

namespace accuracy {
namespace {

// What a run is held to.
constexpr double kMostLost = 0.01;         // share of readings without the true ruling
constexpr double kMostScatter = 1.15;      // robust, in bounds
constexpr double kMostOutside = 0.05;      // share of errors beyond kWithinBounds
constexpr double kMostBias = 0.1;          // |mean| in bounds
constexpr double kLeastEfficiency = 0.90;  // mean square error of the best estimator over the engine's
// No upper limit here: the claim holds more than noise, and these scenes show only that.
constexpr double kLeastCovered = 0.93;

// Relative standard deviation of 1.4826 times the median of |z| of n normal deviates is this over sqrt(n): half the
// inverse of 2 n times the median deviation's asymptotic efficiency of 0.37.
const double kMedianDeviation = std::sqrt(1.0 / (2.0 * 0.37));

// Standard deviation of the ratio of two mean squares of n normal deviates each, times sqrt(n), where the one deviate
// is the other and something else that makes a tenth of its variance: 2 sqrt(0.1) and a little.
constexpr double kPairedDeviation = 0.7;

bool line(const char* what, double reached, const char* relation, double limit, bool kept) {
  std::printf("    %-52s %8.4f %s %-8.4f %s\n", what, reached, relation, limit, kept ? "kept" : "MISSED");
  return kept;
}

bool at_most(const char* what, double reached, double limit) {
  return line(what, reached, "<=", limit, reached <= limit);
}

bool at_least(const char* what, double reached, double limit) {
  return line(what, reached, ">=", limit, reached >= limit);
}

double ratio(double part, std::size_t whole) { return whole > 0 ? part / static_cast<double>(whole) : 0.0; }

bool keeps_finding(const ErrorSummary& s, bool share) {
  const double lost = static_cast<double>(s.readings - s.found);
  return at_most("readings without the true ruling", lost, most_allowed(s.readings, kMostLost, share)) && s.found > 0;
}

bool keeps_coverage(const ErrorSummary& s, bool share) {
  const std::size_t n = s.found;
  const double inside = ratio(static_cast<double>(s.inside), n);
  return at_least("errors inside t times the claimed uncertainty", inside,
                  ratio(least_allowed(n, kLeastCovered, share), n));
}

}  // namespace

BoundedError bounded_error(const scale::Reading& reading, const micrograph::Truth& truth, double bound) {
  BoundedError error;
  error.scene = truth.name + " " + std::to_string(truth.seed);
  if (reading.rulings.size() != 1) return error;
  const AxisError axis = axis_error(reading.rulings.front(), truth);
  error.found = axis.matched && std::abs(axis.relative) <= kGross;
  error.in_bounds = axis.relative / bound;
  error.inside = axis.inside;
  return error;
}

ErrorSummary summarise(const std::vector<BoundedError>& errors) {
  ErrorSummary s;
  s.readings = errors.size();
  std::vector<double> sizes;
  for (const BoundedError& error : errors) {
    if (!error.found) continue;
    const double size = std::abs(error.in_bounds);
    sizes.push_back(size);
    s.mean += error.in_bounds;
    s.mean_square += size * size;
    s.within += size <= kWithinBounds;
    s.inside += error.inside;
    if (size > s.largest) {
      s.largest = size;
      s.largest_in = error.scene;
    }
  }
  s.found = sizes.size();
  if (sizes.empty()) return s;
  s.mean /= static_cast<double>(s.found);
  s.mean_square /= static_cast<double>(s.found);
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  s.robust_scatter = 1.4826 * *middle;
  return s;
}

bool keeps_scene_limits(const ErrorSummary& s, bool share) {
  const double n = static_cast<double>(std::max<std::size_t>(1, s.found));
  const double chance = deviations_allowed(share) / std::sqrt(n);
  bool kept = keeps_finding(s, share);
  kept &= at_most("robust scatter / bound", s.robust_scatter, kMostScatter * (1.0 + chance * kMedianDeviation));
  kept &= at_least("share of errors within 2.5 bounds", ratio(static_cast<double>(s.within), s.found),
                   ratio(least_allowed(s.found, 1.0 - kMostOutside, share), s.found));
  kept &= at_most("|mean error / bound|", std::abs(s.mean), kMostBias + chance * kMostScatter);
  kept &= keeps_coverage(s, share);
  return kept;
}

bool keeps_fixed_limits(const ErrorSummary& s, double best_mean_square, bool share) {
  bool kept = keeps_finding(s, share);
  const double efficiency = s.mean_square > 0.0 ? best_mean_square / s.mean_square : 0.0;
  const double chance =
      deviations_allowed(share) * kPairedDeviation / std::sqrt(static_cast<double>(std::max<std::size_t>(1, s.found)));
  kept &= at_least("efficiency, mean square of best estimator / engine", efficiency, kLeastEfficiency - chance);
  kept &= keeps_coverage(s, share);
  return kept;
}

}  // namespace accuracy
