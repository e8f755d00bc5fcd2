// Charts whose centre and sigma come from a few agreed shots: no more false alerts than with exact ones.
#include <doctest/doctest.h>
#include <scale/control_chart.h>

#include <boost/math/distributions/non_central_t.hpp>

#include <algorithm>
#include <cmath>
#include <random>

#include "support/within.h"

namespace {

using namespace scale;

constexpr std::size_t kYear = 52;  // weekly shots after the base period

// Shots of the base period and of the year after it, in which the factor grows by `ramp` sigma a shot.
std::vector<double> shots_of(std::size_t period, double ramp, unsigned seed) {
  std::mt19937_64 bits(seed);
  std::normal_distribution<double> normal;
  std::vector<double> values(period + kYear);
  for (std::size_t i = 0; i < values.size(); ++i)
    values[i] = 7.0 + 0.3 * (normal(bits) + (i >= period ? ramp * static_cast<double>(i - period + 1) : 0.0));
  return values;
}

// Shots after the base period until EWMA or CUSUM raises an alert, of each run, in order of size.
std::vector<std::size_t> alerts_after(std::size_t period, double ramp, bool taken_as_exact = false) {
  constexpr unsigned kRuns = 1000;
  std::vector<std::size_t> list;
  for (unsigned run = 0; run < kRuns; ++run) {
    const std::vector<double> values = shots_of(period, ramp, 40000U + run);
    ChartBase base = *base_of(std::span(values).first(period));
    std::span<const double> charted = values;
    if (taken_as_exact) base.period = 0, charted = charted.subspan(period);
    const ControlChart chart = control_chart(charted, base);
    constexpr std::size_t kNever = 10 * kYear;
    const std::size_t first = std::min(chart.first_ewma.value_or(kNever), chart.first_cusum.value_or(kNever));
    list.push_back(first + 1 - base.period);
  }
  std::sort(list.begin(), list.end());
  return list;
}

double alerted(const std::vector<std::size_t>& first) {
  const auto within_year = std::upper_bound(first.begin(), first.end(), kYear) - first.begin();
  return static_cast<double>(within_year) / static_cast<double>(first.size());
}

TEST_CASE("a base period of any length leaves the false alerts of a year at what exact limits have") {
  // By the run lengths of either chart some 0.13 (drift_chart_test.cpp); three standard deviations are 0.033.
  for (const std::size_t period : {3, 5, 10, 20, 50}) {
    CAPTURE(period);
    const double share = alerted(alerts_after(period, 0.0));
    CHECK(share > 0.09);
    CHECK(share < 0.175);
  }
  // What would be if estimates were taken as exact.
  const double of_10 = alerted(alerts_after(10, 0.0, true)), of_20 = alerted(alerts_after(20, 0.0, true));
  MESSAGE("base taken as exact: of 10 shots ", of_10, ", of 20 ", of_20, " of years with an alert");
  CHECK(of_10 > 0.4);
  CHECK(of_20 > 0.3);
}

TEST_CASE("a ramp after a base period is seen, the sooner the longer that was") {
  const auto half = [](const std::vector<std::size_t>& list) { return list[list.size() / 2]; };
  const auto nearly_all = [](const std::vector<std::size_t>& list) { return list[list.size() * 95 / 100]; };
  const auto after_10 = alerts_after(10, 0.1), after_50 = alerts_after(50, 0.1);
  CHECK(half(after_10) <= 18);
  CHECK(nearly_all(after_10) <= 27);
  CHECK(half(after_50) <= 15);
  CHECK(nearly_all(after_50) <= 21);
}

// Of the shots after a base period, each the first one of a run of its own, how many lie beyond the limits.
double share_beyond(std::size_t period, double shift, unsigned runs = 20000) {
  std::mt19937_64 bits(50000U + period);
  std::normal_distribution<double> normal;
  unsigned beyond = 0;
  for (unsigned run = 0; run < runs; ++run) {
    std::vector<double> values(period + 1);
    for (double& value : values) value = normal(bits);
    values.back() += shift;
    beyond += control_chart(values, *base_of(std::span(values).first(period))).first_beyond.has_value();
  }
  return static_cast<double>(beyond) / runs;
}

TEST_CASE("a single shot after a base period has the false alarms of three sigmas, and no fewer") {
  for (const std::size_t period : {3, 5, 10, 20, 50}) {
    CAPTURE(period);
    const double share = share_beyond(period, 0.0);
    CHECK(share > 0.0027 - 4.0 * std::sqrt(0.0027 / 20000));
    CHECK(share < 0.0027 + 4.0 * std::sqrt(0.0027 / 20000));
  }
}

TEST_CASE("a shift of four sigma is found in one shot as often as the noncentral t distribution says") {
  for (const std::size_t period : {5, 10, 20, 50}) {
    CAPTURE(period);
    const auto n = static_cast<double>(period);
    const boost::math::students_t student(n - 1.0);
    const boost::math::non_central_t shifted(n - 1.0, 4.0 / std::sqrt(1.0 + 1.0 / n));
    const double limit = quantile(complement(student, 0.5 * 0.0026998));
    const double expected = cdf(complement(shifted, limit)) + cdf(shifted, -limit);
    CHECK(within(share_beyond(period, 4.0), expected, 4.0 * std::sqrt(expected * (1.0 - expected) / 20000)));
    MESSAGE("after ", period, " shots a shift of four sigma is seen in one shot in ", 100.0 * expected, " %");
  }
}

TEST_CASE("unchanged years have no more alerts of single shots than run lengths say") {
  // 1 - 0.9973^52 = 0.13 where the factor is exact; shots that are held against one base period are alarmed together.
  for (const std::size_t period : {10, 20, 50}) {
    CAPTURE(period);
    int alerted = 0, dated = 0;
    constexpr unsigned kRuns = 1000;
    for (unsigned run = 0; run < kRuns; ++run) {
      const std::vector<double> values = shots_of(period, 0.0, 60000U + run);
      const ChartBase base = *base_of(std::span(values).first(period));
      alerted += control_chart(values, base).first_beyond.has_value();
      dated += change_point(values, base).kind != ChangeKind::none;
    }
    CHECK(alerted < 165);
    CHECK(alerted > 50);
    CHECK(dated <= 25);  // 10 are meant to be; 60 were after ten shots taken as exact
  }
}

TEST_CASE("limits after a base period are those of one further value, worked by hand") {
  // Base 1, 2, 3: mean 2, s = 1. Two degrees of freedom: t = sqrt(2) p / sqrt(1 - p^2), p = 0.9973002 (closed form).
  const std::vector<double> values = {1.0, 2.0, 3.0};
  const ControlChart chart = control_chart(values, *base_of(values));
  const double p = 0.9973002039367398, t = std::sqrt(2.0) * p / std::sqrt(1.0 - p * p);
  CHECK(within(chart.upper, 2.0 + t * std::sqrt(1.0 + 1.0 / 3.0), 1e-6));
  CHECK(within(chart.lower, 2.0 - t * std::sqrt(1.0 + 1.0 / 3.0), 1e-6));
  // Known as exactly as the e-Handbook takes it.
  CHECK(within(control_chart(values, {2.0, 1.0}).upper, 5.0, 1e-12));
  CHECK(within(control_chart(values, {2.0, 1.0}).range_upper, 3.267 * 1.128, 1e-12));
}

TEST_CASE("differences after a base period have the false alarms of D4") {
  const double expected = std::erfc(3.267 * 1.128 / 2.0);  // of N(0, 2)
  std::mt19937_64 bits(80000);
  std::normal_distribution<double> normal;
  int beyond = 0;
  constexpr int kRuns = 20000;
  for (int run = 0; run < kRuns; ++run) {
    std::vector<double> values(12);
    for (double& value : values) value = normal(bits);
    beyond += control_chart(values, *base_of(std::span(values).first(10))).range_beyond(11);
  }
  CHECK(within(beyond / static_cast<double>(kRuns), expected, 4.0 * std::sqrt(expected / kRuns)));
}

TEST_CASE("departures after a base period are those of Student's t, worked by hand") {
  // Base 1, 3: mean 2, s = sqrt(2). A third value of 2 + sqrt(3) has t = 1 with one degree of freedom,
  // beyond which lies a quarter; the normal value of that is 0.674490.
  const std::vector<double> values = {1.0, 3.0, 2.0 + std::sqrt(3.0)};
  const ChartBase base = *base_of(std::span(values).first(2));
  CHECK(base.period == 2);
  const ControlChart chart = control_chart(values, base);
  CHECK(chart.departures[0] == 0.0);
  CHECK(chart.departures[1] == 0.0);
  CHECK(within(chart.departures[2] / base.sigma, 0.674490, 1e-6));
  CHECK(chart.ewma[1] == base.centre);
  CHECK_FALSE(chart.first_alert());
}

TEST_CASE("a base period longer than the shots, or of one, is refused") {
  CHECK_THROWS(control_chart(std::vector<double>{1.0, 2.0}, {1.5, 1.0, 0.0, 3}));
  CHECK_THROWS(control_chart(std::vector<double>{1.0, 2.0}, {1.5, 1.0, 0.0, 1}));
}

TEST_CASE("a jump of three sigma after a base period of ten is an alert within ten shots") {
  int seen = 0;
  for (unsigned run = 0; run < 200; ++run) {
    std::vector<double> values = shots_of(10, 0.0, 70000U + run);
    for (std::size_t i = 10; i < values.size(); ++i) values[i] += 0.9;
    const ControlChart chart = control_chart(values, *base_of(std::span(values).first(10)));
    const auto first = chart.first_alert();
    seen += first && *first < 20;
  }
  CHECK(seen >= 190);
}

}  // namespace
