#include <scale/drift.h>

#include <algorithm>
#include <cmath>

namespace scale {
namespace {

// Two-sided share of a normal distribution within three standard deviations.
constexpr double kThreeSigma = 0.9973002039367398;

struct Side {
  double variance = 0.0, spread = 0.0;  // sum of u^2, and of u^4 / nu

  void add(double relative, double degrees_of_freedom) {
    const double square = relative * relative;
    variance += square;
    if (std::isfinite(degrees_of_freedom) && degrees_of_freedom > 0.0) spread += square * square / degrees_of_freedom;
  }
  double freedom() const {
    return spread > 0.0 ? variance * variance / spread : std::numeric_limits<double>::infinity();
  }
  double expanded() const { return variance > 0.0 ? coverage_factor(freedom()) * std::sqrt(variance) : 0.0; }
};

double relative_of(const FactorAlong& factor, const std::string& component) {
  double square = 0.0;
  for (const UncertaintyPart& part : factor.parts)
    if (part.component == component) square += part.relative * part.relative;
  return std::sqrt(square);
}

Side own_side(const FactorAlong& factor, std::span<const std::string> shared) {
  Side side;
  for (const UncertaintyPart& part : factor.parts)
    if (std::find(shared.begin(), shared.end(), part.component) == shared.end())
      side.add(part.relative, part.degrees_of_freedom);
  return side;
}

}  // namespace

const char* name_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::within:
      return "within";
    case Verdict::drifted:
      return "drifted";
    case Verdict::mismatch:
      return "mismatch";
    case Verdict::unverifiable:
      break;
  }
  return "unverifiable";
}

ScaleComparison compare_factors(const FactorAlong& found, const FactorAlong& registered,
                                std::span<const std::string> shared) {
  Side of_found = own_side(found, shared);
  const Side of_registered = own_side(registered, shared);
  // One error under both, with another weight where the spans differ: its difference is what is left.
  for (const std::string& component : shared)
    of_found.add(relative_of(found, component) - relative_of(registered, component),
                 std::numeric_limits<double>::infinity());
  Side change;
  change.variance = of_found.variance + of_registered.variance;
  change.spread = of_found.spread + of_registered.spread;
  ScaleComparison result;
  result.found = found.um_per_pixel;
  result.registered = registered.um_per_pixel;
  result.relative_change = found.um_per_pixel / registered.um_per_pixel - 1.0;
  result.standard_uncertainty = std::sqrt(change.variance);
  result.registered_uncertainty = std::sqrt(of_registered.variance);
  result.degrees_of_freedom = change.freedom();
  result.coverage_factor = coverage_factor(result.degrees_of_freedom);
  result.expanded_uncertainty = result.coverage_factor * result.standard_uncertainty;
  result.limit = coverage_factor(result.degrees_of_freedom, kThreeSigma) * result.standard_uncertainty;
  if (change.variance > 0.0)
    result.en = normalised_error(found.um_per_pixel, found.um_per_pixel * of_found.expanded(), registered.um_per_pixel,
                                 registered.um_per_pixel * of_registered.expanded());
  return result;
}

}  // namespace scale
