#include <scale/control_chart.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "numeric/distributions.h"

namespace scale {
namespace {

// Chi-square of one degree of freedom at 95 %, as the likelihood ratio tends to.
constexpr double kConfidence = 3.8414588206941236;
// The largest gain of any step among up to some hundreds of places by chance: about 1 % of series exceed it (simulated
// in tests/unit; for long series slightly more).
constexpr double kBelieved = 13.0;
// A jump and a trend that differ by less in chi-square cannot be told apart (a likelihood ratio of e^2).
constexpr double kTellsApart = 4.0;

// The gain in chi-square when the values from `first` on are described by one more number.
struct Fit {
  double gain = 0.0, size = 0.0;
};

// The level before is free as well, as the calibration is off by its own error.
double level(std::span<const double> values, std::size_t from, std::size_t to) {
  double sum = 0.0;
  for (std::size_t i = from; i < to; ++i) sum += values[i];
  return sum / static_cast<double>(to - from);
}

Fit step_at(std::span<const double> values, double sigma, std::size_t first) {
  const auto before = static_cast<double>(first), after = static_cast<double>(values.size() - first);
  const double size = level(values, first, values.size()) - level(values, 0, first);
  return {size * size * before * after / (before + after) / (sigma * sigma), size};
}

// Flat up to `first`, then growing by the slope with every value.
Fit ramp_from(std::span<const double> values, double sigma, std::size_t first) {
  const auto n = static_cast<double>(values.size());
  double sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double x = i < first ? 0.0 : static_cast<double>(i - first + 1);
    sx += x, sy += values[i], sxx += x * x, sxy += x * values[i];
  }
  const double spread = sxx - sx * sx / n;
  if (!(spread > 0.0)) return {};
  const double slope = (sxy - sx * sy / n) / spread;
  return {slope * slope * spread / (sigma * sigma), slope};
}

struct Best {
  Fit fit;
  std::size_t first = 0, earliest = 0, latest = 0;
};

template <class At>
Best best_of(std::size_t count, const At& at) {
  Best best;
  for (std::size_t first = 1; first < count; ++first)
    if (const Fit fit = at(first); fit.gain > best.fit.gain) best = {fit, first, first, first};
  for (std::size_t first = 1; first < count; ++first) {
    if (at(first).gain < best.fit.gain - kConfidence) continue;
    best.earliest = std::min(best.earliest, first);
    best.latest = std::max(best.latest, first);
  }
  return best;
}

struct Scatter {
  double sigma = 0.0, degrees_of_freedom = std::numeric_limits<double>::infinity();
};

// Sigma of a few agreed shots, taken as exact, would date a change in 6 of 100 unchanged years after ten of them; so
// all values are asked how far they scatter about the best step or ramp.
Scatter scatter_of(std::span<const double> values, const ChartBase& base) {
  if (base.period == 0 || values.size() < 3) return {base.shot_sigma()};
  double gain = 0.0, squares = 0.0;
  for (std::size_t i = 1; i < values.size(); ++i)
    gain = std::max({gain, step_at(values, 1.0, i).gain, ramp_from(values, 1.0, i).gain});
  const double mean = level(values, 0, values.size());
  for (const double value : values) squares += (value - mean) * (value - mean);
  const auto left = static_cast<double>(values.size() - 2);
  return {std::sqrt(std::max(0.0, squares - gain) / left), left};
}

// The gain that is as unlikely where sigma is known.
double believable(double gain, const Scatter& scatter) {
  if (!std::isfinite(scatter.degrees_of_freedom)) return gain;
  return std::pow(numeric::normal_score_of_t(std::sqrt(gain), scatter.degrees_of_freedom), 2);
}

}  // namespace

ChangePoint change_point(std::span<const double> values, const ChartBase& base) {
  ChangePoint change;
  if (values.size() < 2) return change;
  const Scatter scatter = scatter_of(values, base);
  const double sigma = scatter.sigma;
  if (!(sigma > 0.0)) return change;
  const Best step = best_of(values.size(), [&](std::size_t i) { return step_at(values, sigma, i); });
  const Best ramp = best_of(values.size(), [&](std::size_t i) { return ramp_from(values, sigma, i); });
  if (believable(std::max(step.fit.gain, ramp.fit.gain), scatter) < kBelieved) return change;
  const double apart = step.fit.gain - ramp.fit.gain;
  change.kind = apart > kTellsApart    ? ChangeKind::jump
                : apart < -kTellsApart ? ChangeKind::trend
                                       : ChangeKind::jump_or_trend;
  const Best& likely = change.kind == ChangeKind::trend ? ramp : step;
  change.first_after = likely.first;
  change.earliest = likely.earliest;
  change.latest = likely.latest;
  change.size = step.fit.size;
  change.slope = ramp.fit.size;
  const auto before = static_cast<double>(step.first), after = static_cast<double>(values.size() - step.first);
  constexpr double kTwoSigma = 0.9545;
  change.expanded_uncertainty = numeric::student_t_quantile(kTwoSigma, scatter.degrees_of_freedom) * sigma *
                                std::sqrt(1.0 / before + 1.0 / after);
  return change;
}

}  // namespace scale
