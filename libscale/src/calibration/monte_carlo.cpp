#include <oneapi/tbb/parallel_for.h>
#include <oneapi/tbb/parallel_sort.h>

#include <scale/uncertainty.h>
#include <algorithm>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/seed_seq.hpp>
#include <boost/random/student_t_distribution.hpp>
#include <boost/random/uniform_01.hpp>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "calibration/inputs.h"

namespace scale {
namespace {

// Boost.Random's distributions, as those of the standard library differ from one implementation to the next.
using Generator = boost::random::mt19937_64;

constexpr std::size_t kLeastTrials = 1000;
// Trials that share one generator; a fixed number, so that the threads' number does not show in the result.
constexpr std::size_t kBlock = 8192;

double uniform(Generator& generator) { return boost::random::uniform_01<double>()(generator); }

// JCGM 101, 6.4.3.4: the limits themselves are drawn first, symmetrically, then a value between them.
double draw_curvilinear_trapezoid(const UncertainInput& input, Generator& generator) {
  const double d = input.limits_inexact_by;
  const double half_width = std::sqrt(3.0 * std::max(0.0, std::pow(input.standard_uncertainty, 2) - d * d / 9.0));
  const double reach = half_width + d * (2.0 * uniform(generator) - 1.0);
  return input.value + reach * (2.0 * uniform(generator) - 1.0);
}

double draw(const UncertainInput& input, Generator& generator) {
  const double x = input.value, u = input.standard_uncertainty;
  switch (input.distribution) {
    case Distribution::normal:
      return x + u * boost::random::normal_distribution<double>()(generator);
    case Distribution::student_t:
      if (std::isinf(input.degrees_of_freedom)) return x + u * boost::random::normal_distribution<double>()(generator);
      return x + u * boost::random::student_t_distribution<double>(input.degrees_of_freedom)(generator);
    case Distribution::rectangular:
      return x + std::sqrt(3.0) * u * (2.0 * uniform(generator) - 1.0);
    case Distribution::triangular:
      return x + std::sqrt(6.0) * u * (uniform(generator) + uniform(generator) - 1.0);
    case Distribution::arcsine:
      return x + std::sqrt(2.0) * u * std::sin(2.0 * std::numbers::pi * uniform(generator));
    case Distribution::curvilinear_trapezoid:
      return draw_curvilinear_trapezoid(input, generator);
  }
  throw std::invalid_argument("propagate: no such distribution");
}

std::vector<double> sample(std::span<const UncertainInput> inputs, const MeasurementModel& model, std::size_t trials,
                           std::uint64_t seed) {
  std::vector<double> values(trials);
  const std::size_t blocks = (trials + kBlock - 1) / kBlock;
  tbb::parallel_for(std::size_t{0}, blocks, [&](std::size_t block) {
    const boost::random::seed_seq words{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32U),
                                        static_cast<std::uint32_t>(block)};
    Generator generator(words);
    std::vector<double> drawn(inputs.size());
    for (std::size_t i = block * kBlock; i < std::min(trials, (block + 1) * kBlock); ++i) {
      std::transform(inputs.begin(), inputs.end(), drawn.begin(),
                     [&](const UncertainInput& input) { return draw(input, generator); });
      values[i] = model(drawn);
    }
  });
  return values;
}

// Of the sorted values; `inside` of them lie between the two.
void set_intervals(MonteCarlo& result, const std::vector<double>& sorted, double probability) {
  const auto inside = static_cast<std::size_t>(std::lround(probability * static_cast<double>(sorted.size())));
  const std::size_t outside = sorted.size() - 1 - std::min(inside, sorted.size() - 1);
  std::size_t shortest = 0;
  for (std::size_t low = 1; low <= outside; ++low)
    if (sorted[low + inside] - sorted[low] < sorted[shortest + inside] - sorted[shortest]) shortest = low;
  result.low = sorted[shortest], result.high = sorted[shortest + inside];
  result.symmetric_low = sorted[outside / 2], result.symmetric_high = sorted[outside / 2 + inside];
}

}  // namespace

MonteCarlo propagate(std::span<const UncertainInput> inputs, const MeasurementModel& model, std::size_t trials,
                     std::uint64_t seed, double probability) {
  calibration::require_sound(inputs);
  if (trials < kLeastTrials) throw std::invalid_argument("propagate: at least 1000 trials are needed");
  if (!(probability > 0.0 && probability < 1.0))
    throw std::invalid_argument("propagate: the probability must lie between 0 and 1");
  std::vector<double> values = sample(inputs, model, trials, seed);
  tbb::parallel_sort(values);
  MonteCarlo result;
  result.trials = trials;
  for (const double value : values) result.mean += value / static_cast<double>(trials);
  double squares = 0.0;
  for (const double value : values) squares += std::pow(value - result.mean, 2);
  result.standard_uncertainty = std::sqrt(squares / static_cast<double>(trials - 1));
  set_intervals(result, values, probability);
  return result;
}

}  // namespace scale
