// Parallel straight lines, one a series, with errors in both variables; and readings that do not fit.
#pragma once

#include <optional>

#include "calibration/reticle_runs.h"

namespace scale::calibration {

struct ReticleFit {
  double slope = 0.0;              // micrometres per division
  double slope_uncertainty = 0.0;  // standard
  std::vector<double> offsets;     // micrometres at reticle 0, of each point's series
  double chi_squared = 0.0;
  int degrees_of_freedom = 0;
  bool valid = false;

  // That readings of the stated uncertainty scatter as much by chance.
  double chance() const;
};

// At the minimum the weighted centroids of the series lie on their lines, so that points counted from them have one
// line in common: that of ISO/TS 28037, clause 7. Found by iteration over the centroids.
ReticleFit fit_points(std::span<const ReadingPoint> points);

// A reading that the others contradict.
struct Misfit {
  std::size_t point = 0;
  std::string what;  // "miscounted by 1 on the micrometer"; empty: it does not fit, and is no whole number off
};

// The one point without which the rest fits. Nothing when all fit, or when it cannot be told which one is wrong.
std::optional<Misfit> find_misfit(std::span<const ReadingPoint> points, double division_um);

// Half the range of slopes for which every pair of points still lies within its limits; 0 when there is none.
double feasible_half_range(std::span<const ReadingPoint> points);

}  // namespace scale::calibration
