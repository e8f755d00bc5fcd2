// How soon could any chart see a ramp, when the factor it is held against is itself uncertain?
//
// Shots y_t = c e_0 + s e_t + a t, e standard normal, c^2 + s^2 = 1: the calibration's own error c is one and the same
// under all of them. Of all tests of the first n shots with the same probability of a false alert, the likelihood ratio
// finds a known ramp most often (lemma of Neyman and Pearson; for both signs of a alike its size decides). With the
// offset integrated out its signal is a^2 (sum t^2 / s^2 - (sum t / s^2)^2 / (1/c^2 + n/s^2)), closed form.
#include <doctest/doctest.h>
#include <scale/control_chart.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

namespace {

using namespace scale;

constexpr double kRamp = 0.1;  // standard uncertainties a shot
constexpr unsigned kRuns = 4000;

double above(double z) { return 0.5 * std::erfc(z / std::sqrt(2.0)); }

// The most that any test finds by shot n, when as many as `false_alerts` of unchanged runs may have an alert by then.
double best_power(int n, double common, double false_alerts) {
  const double own = 1.0 - common * common, count = n;
  const double sum = 0.5 * count * (count + 1.0), squares = count * (count + 1.0) * (2.0 * count + 1.0) / 6.0;
  const double offset = common > 0.0 ? sum / own * sum / own / (1.0 / (common * common) + count / own) : 0.0;
  const double signal = kRamp * std::sqrt(squares / own - offset);
  double low = 0.0, high = 10.0;  // bisection for the threshold of both sides
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (2.0 * above(middle) > false_alerts ? low : high) = middle;
  }
  return above(low - signal) + above(low + signal);
}

// Share of runs with an alert of EWMA or CUSUM by shot n.
double found_by(std::size_t n, double common, double ramp) {
  std::mt19937_64 bits(31);
  std::normal_distribution<double> normal;
  int found = 0;
  for (unsigned run = 0; run < kRuns; ++run) {
    std::vector<double> values(n);
    const double offset = common * normal(bits), own = std::sqrt(1.0 - common * common);
    for (std::size_t i = 0; i < n; ++i) values[i] = offset + own * normal(bits) + ramp * static_cast<double>(i + 1);
    const ControlChart chart = control_chart(values, {0.0, 1.0, common});
    found += chart.first_ewma || chart.first_cusum;
  }
  return found / static_cast<double>(kRuns);
}

// 95 % of ramps by shot 19 is the goal. Beyond reach where no test could do it.
TEST_CASE("95 % of ramps by shot 19 is beyond any chart where half of u is the calibration's own") {
  const double false_alerts = found_by(19, 0.5, 0.0);
  MESSAGE("false alerts by shot 19: ", false_alerts, "; best of any test: by 19 ", best_power(19, 0.5, false_alerts),
          ", by 21 ", best_power(21, 0.5, found_by(21, 0.5, 0.0)), "; a fifth of u the calibration's, by 19 ",
          best_power(19, 0.2, found_by(19, 0.2, 0.0)));
  CHECK(false_alerts < 0.06);
  CHECK(best_power(19, 0.5, false_alerts) < 0.93);
  CHECK(best_power(19, 0.5, false_alerts) > 0.89);
  CHECK(best_power(19, 0.0, false_alerts) > 0.99);  // with an exact factor it is within reach, and the charts reach it
  CHECK(found_by(19, 0.0, kRamp) > 0.95);
}

TEST_CASE("the charts are no more than three shots behind the best that is possible") {
  for (const double common : {0.2, 0.5}) {
    CAPTURE(common);
    for (const std::size_t n : {14, 19}) {
      CAPTURE(n);
      const double bound = best_power(static_cast<int>(n), common, found_by(n, common, 0.0));
      CHECK(found_by(n, common, kRamp) <= bound + 0.02);  // two standard deviations of such a share are 0.016
      CHECK(found_by(n + 3, common, kRamp) >= bound - 0.02);
    }
  }
}

}  // namespace
