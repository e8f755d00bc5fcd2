// Pitch errors in units of their Cramer-Rao bound, summed up and held against their limits.
#pragma once

#include <string>
#include <vector>

#include "judge.h"

namespace accuracy {

/// One reading of one scene.
struct BoundedError {
  bool found = false;      ///< exactly the true ruling: one axis, of the true direction, off by 1 % at most
  double in_bounds = 0.0;  ///< (pitch / truth - 1) / bound
  bool inside = false;     ///< within t(95.45 %) times the claimed uncertainty
  std::string scene;       ///< for people
};

BoundedError bounded_error(const scale::Reading& reading, const micrograph::Truth& truth, double bound);

struct ErrorSummary {
  std::size_t readings = 0, found = 0;
  double robust_scatter = 0.0;  ///< 1.4826 times the median of |error / bound|
  std::size_t within = 0;       ///< |error / bound| <= kWithinBounds
  double mean = 0.0, mean_square = 0.0, largest = 0.0;
  std::string largest_in;
  std::size_t inside = 0;
};

inline constexpr double kWithinBounds = 2.5;

ErrorSummary summarise(const std::vector<BoundedError>& errors);

/// Tidy scenes: scatter, share within 2.5 bounds, bias, coverage. Prints each limit; true when all are kept.
bool keeps_scene_limits(const ErrorSummary& summary, bool share);

/// One scene, fresh noise: efficiency, coverage. The efficiency is taken against the mean square error, in bounds, of
/// the estimator that attains the bound, from the same exposures: a thousand of them alone scatter by 4.5 % about it.
bool keeps_fixed_limits(const ErrorSummary& summary, double best_mean_square, bool share);

}  // namespace accuracy
