#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include <scale/measurement.h>

#include "numeric/distributions.h"

namespace scale {
namespace {

constexpr std::size_t kMostClasses = 400;

// Value below which this share of the weights lies; straight between the middles of the steps.
double weighted_quantile(const std::vector<SizedBody>& sorted, const std::vector<double>& weights, double share) {
  const double total = std::accumulate(weights.begin(), weights.end(), 0.0);
  double passed = 0.0, last_place = 0.0, last_value = sorted.front().value;
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    const double place = (passed + 0.5 * weights[i]) / total;
    if (place >= share) {
      if (i == 0) return sorted[0].value;
      return last_value + (sorted[i].value - last_value) * (share - last_place) / (place - last_place);
    }
    passed += weights[i];
    last_place = place, last_value = sorted[i].value;
  }
  return sorted.back().value;
}

double weighted_mean(const std::vector<SizedBody>& bodies, const std::vector<double>& weights) {
  double sum = 0.0, total = 0.0;
  for (std::size_t i = 0; i < bodies.size(); ++i) sum += weights[i] * bodies[i].value, total += weights[i];
  return sum / total;
}

// 1, 2 or 5 times a power of ten, about twice the quartile range over the cube root of n (Freedman and Diaconis, 1981).
double chosen_width(const SizeDistribution& found, double quartile_range) {
  const double raw = 2.0 * quartile_range / std::cbrt(static_cast<double>(found.count));
  if (!(raw > 0.0)) return std::max(0.1 * found.mean, 1e-9);
  const double power = std::pow(10.0, std::floor(std::log10(raw)));
  // The one next to it in ratio.
  const double ratio = raw / power;
  return power * (ratio < std::sqrt(2.0) ? 1.0 : ratio < std::sqrt(10.0) ? 2.0 : ratio < std::sqrt(50.0) ? 5.0 : 10.0);
}

void fill_classes(SizeDistribution& found, const std::vector<SizedBody>& bodies, const std::vector<double>& weights,
                  const std::vector<double>& amounts, double width) {
  const double first = std::floor(found.least / width);
  const auto needed = static_cast<std::size_t>(std::floor(found.most / width) - first) + 1;
  const std::size_t count = std::min(needed, kMostClasses);
  found.widened = needed > kMostClasses;
  if (found.widened) width *= std::ceil(static_cast<double>(needed) / kMostClasses);
  const double low = std::floor(found.least / width) * width;
  for (std::size_t i = 0; i < count; ++i)
    found.classes.push_back({low + static_cast<double>(i) * width, low + static_cast<double>(i + 1) * width});
  const double total = std::accumulate(weights.begin(), weights.end(), 0.0);
  const double all = std::accumulate(amounts.begin(), amounts.end(), 0.0);
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    const auto place =
        std::min(count - 1, static_cast<std::size_t>(std::max(0.0, std::floor((bodies[i].value - low) / width))));
    found.classes[place].count += weights[i];
    found.classes[place].share += weights[i] / total;
    if (all > 0.0) found.classes[place].amount_share += amounts[i] / all;
  }
}

void spread_over_mean(SizeDistribution& found, const std::vector<SizedBody>& bodies, const std::vector<double>& weights,
                      const DistributionOptions& options) {
  double squares = 0.0, total = 0.0, weight_squares = 0.0, shared = 0.0, rectangular = 0.0, own = 0.0;
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    squares += weights[i] * std::pow(bodies[i].value - found.mean, 2);
    total += weights[i], weight_squares += weights[i] * weights[i];
    shared += weights[i] * bodies[i].shared;
    rectangular += weights[i] * bodies[i].rectangular;
    own += std::pow(weights[i] * bodies[i].own, 2);
  }
  const double n = total * total / weight_squares;  // as many equal weights
  found.sd = n > 1.0 ? std::sqrt(squares / total * n / (n - 1.0)) : 0.0;
  found.variation = found.mean > 0.0 ? found.sd / found.mean : 0.0;
  // The scatter of the bodies holds the noise of each; of one or two bodies it may not, by chance.
  found.sampling = std::max(found.sd / std::sqrt(n), std::sqrt(own) / total);
  found.shared = shared / total;
  found.rectangular = rectangular / total;
  const double rest = found.shared * found.shared - found.rectangular * found.rectangular;
  found.expanded = expanded_with_limits(std::hypot(found.sampling, std::sqrt(std::max(0.0, rest))), found.rectangular);
  if (found.count < 2) return;
  const double t = numeric::student_t_quantile(options.confidence, n - 1.0);
  found.interval_half = t * found.sd / std::sqrt(n);
  if (options.wanted > 0.0 && found.mean > 0.0)
    found.needed = static_cast<int>(std::min(1e9, std::ceil(std::pow(t * found.variation / options.wanted, 2))));
}

}  // namespace

SizeDistribution distribution_of(std::span<const SizedBody> given, const DistributionOptions& options) {
  if (!(options.confidence > 0.0 && options.confidence < 1.0))
    throw std::invalid_argument("distribution_of: the confidence must lie between 0 and 1");
  SizeDistribution found;
  std::vector<SizedBody> bodies;
  std::copy_if(given.begin(), given.end(), std::back_inserter(bodies),
               [](const SizedBody& b) { return b.weight > 0.0; });
  if (bodies.empty()) return found;
  std::stable_sort(bodies.begin(), bodies.end(),
                   [](const SizedBody& a, const SizedBody& b) { return a.value < b.value; });
  std::vector<double> weights, amounts;
  for (const SizedBody& body : bodies) {
    weights.push_back(body.weight);
    amounts.push_back(body.weight * body.amount);
  }
  found.count = static_cast<int>(bodies.size());
  found.least = bodies.front().value, found.most = bodies.back().value;
  found.mean = weighted_mean(bodies, weights);
  found.d10 = weighted_quantile(bodies, weights, 0.1);
  found.median = weighted_quantile(bodies, weights, 0.5);
  found.d90 = weighted_quantile(bodies, weights, 0.9);
  if (std::accumulate(amounts.begin(), amounts.end(), 0.0) > 0.0) {
    found.amount_mean = weighted_mean(bodies, amounts);
    found.amount_d10 = weighted_quantile(bodies, amounts, 0.1);
    found.amount_median = weighted_quantile(bodies, amounts, 0.5);
    found.amount_d90 = weighted_quantile(bodies, amounts, 0.9);
  }
  spread_over_mean(found, bodies, weights, options);
  const double quartiles = weighted_quantile(bodies, weights, 0.75) - weighted_quantile(bodies, weights, 0.25);
  fill_classes(found, bodies, weights, amounts,
               options.class_width > 0.0 ? options.class_width : chosen_width(found, quartiles));
  return found;
}

}  // namespace scale
