// Examples of JCGM 101:2008. The published figures are from memory; a computation of 4 million trials outside this
// project agrees with all of them.
#include <doctest/doctest.h>
#include <scale/uncertainty.h>

#include <cmath>
#include <limits>

#include "support/within.h"

using namespace scale;

namespace {

constexpr std::size_t kTrials = 1000000;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

double sum(std::span<const double> x) {
  double total = 0.0;
  for (const double value : x) total += value;
  return total;
}

std::vector<UncertainInput> four_rectangular(double last) {
  std::vector<UncertainInput> inputs(4, {"X", 0.0, 1.0, Distribution::rectangular});
  inputs.back().standard_uncertainty = last;
  return inputs;
}

}  // namespace

TEST_CASE("JCGM 101, 9.2.3: the sum of four rectangular inputs is narrower than a normal one") {
  const auto inputs = four_rectangular(1.0);
  const MonteCarlo sampled = propagate(inputs, sum, kTrials, 923, 0.95);
  CHECK(within(sampled.standard_uncertainty, 2.0, 0.005));
  CHECK(within(sampled.symmetric_high, 3.88, 0.015));
  CHECK(within(sampled.symmetric_low, -3.88, 0.015));
  CHECK(within(combine(inputs, {}, 0.95).expanded_uncertainty, 3.92, 0.005));
}

TEST_CASE("JCGM 101, 9.2.4: one rectangular input that dominates makes the law of propagation 16 % too wide") {
  const auto inputs = four_rectangular(10.0);
  const MonteCarlo sampled = propagate(inputs, sum, kTrials, 924, 0.95);
  CHECK(within(sampled.standard_uncertainty, std::sqrt(103.0), 0.02));  // published to one decimal: 10.1
  CHECK(within(sampled.symmetric_high, 17.0, 0.05));
  CHECK(within(combine(inputs, {}, 0.95).expanded_uncertainty, 19.8, 0.1));
}

TEST_CASE("JCGM 101, 9.2.2: four normal inputs give what the law of propagation gives") {
  const std::vector<UncertainInput> inputs(4, {"X", 0.0, 1.0, Distribution::normal});
  const MonteCarlo sampled = propagate(inputs, sum, kTrials, 922, 0.95);
  CHECK(within(sampled.symmetric_high, 3.92, 0.015));
}

TEST_CASE("JCGM 101, 9.3: calibration of a mass, where buoyancy makes the model curved") {
  // m_R,c, dm_R,c (mg), density of air, of the weight and of the reference (kg/m^3); result: deviation from 100 g.
  const std::vector<UncertainInput> inputs = {
      {"m_R,c", 100000.0, 0.050, Distribution::normal},
      {"dm_R,c", 1.234, 0.020, Distribution::normal},
      {"air", 1.20, standard_uncertainty_within(0.10), Distribution::rectangular},
      {"weight", 8000.0, standard_uncertainty_within(1000.0), Distribution::rectangular},
      {"reference", 8000.0, standard_uncertainty_within(50.0), Distribution::rectangular}};
  const MonteCarlo sampled = propagate(
      inputs,
      [](std::span<const double> x) {
        return (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100000.0;
      },
      kTrials, 930, 0.95);
  CHECK(within(sampled.mean, 1.2341, 0.0003));
  CHECK(within(sampled.standard_uncertainty, 0.0754, 0.0003));
  CHECK(within(sampled.low, 1.0834, 0.004));
  CHECK(within(sampled.high, 1.3825, 0.004));
}

TEST_CASE("JCGM 101, 9.5: calibration of a gauge block") {
  // Nanometres and degrees Celsius.
  const auto trapezoid = [](double half_width, double inexact) {
    return std::sqrt(half_width * half_width / 3.0 + inexact * inexact / 9.0);
  };
  const std::vector<UncertainInput> inputs = {
      {"lS", 50000623.0, 25.0, Distribution::student_t, 18.0},
      {"D", 215.0, 6.0, Distribution::student_t, 24.0},
      {"d1", 0.0, 4.0, Distribution::student_t, 5.0},
      {"d2", 0.0, 7.0, Distribution::student_t, 8.0},
      {"aS", 11.5e-6, standard_uncertainty_within(2e-6), Distribution::rectangular},
      {"theta0", -0.1, 0.2, Distribution::normal},
      {"Delta", 0.0, standard_uncertainty_within(0.5, Distribution::arcsine), Distribution::arcsine},
      {"da", 0.0, trapezoid(1e-6, 0.1e-6), Distribution::curvilinear_trapezoid, kInfinity, 1.0, 0.1e-6},
      {"dtheta", 0.0, trapezoid(0.050, 0.025), Distribution::curvilinear_trapezoid, kInfinity, 1.0, 0.025}};
  constexpr double kNominal = 50000000.0;
  const MonteCarlo sampled = propagate(
      inputs,
      [](std::span<const double> x) {
        const double standard = x[0] * (1.0 + x[4] * (x[5] + x[6] + x[8]));
        return (standard + x[1] + x[2] + x[3]) / (1.0 + (x[4] + x[7]) * (x[5] + x[6])) - kNominal;
      },
      kTrials, 950, 0.99);
  CHECK(within(sampled.mean, 838.0, 0.5));
  CHECK(within(sampled.standard_uncertainty, 36.0, 0.5));
  CHECK(within(sampled.low, 745.0, 2.0));
  CHECK(within(sampled.high, 932.0, 2.0));
}
