// Since when, by how much, sudden or slow; and the picture of it.
#include <doctest/doctest.h>
#include <scale/chart_svg.h>
#include <scale/control_chart.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "support/within.h"

namespace {

using namespace scale;

std::vector<double> noise(std::size_t count, unsigned seed) {
  std::mt19937_64 bits(seed);
  std::normal_distribution<double> normal;
  std::vector<double> values(count);
  for (double& value : values) value = normal(bits);
  return values;
}

TEST_CASE("a jump of three sigma is dated, and its size lies within U in nineteen of twenty") {
  int dated = 0, covered = 0, named = 0;
  constexpr int kRuns = 300;
  for (int run = 0; run < kRuns; ++run) {
    std::vector<double> values = noise(40, 100U + static_cast<unsigned>(run));
    for (std::size_t i = 25; i < values.size(); ++i) values[i] += 3.0;
    const ChangePoint change = change_point(values, {0.0, 1.0});
    dated += change.earliest <= 25 && 25 <= change.latest;
    covered += std::abs(change.size - 3.0) <= change.expanded_uncertainty;
    named += change.kind == ChangeKind::jump;
  }
  CHECK(dated >= kRuns * 90 / 100);
  CHECK(covered >= kRuns * 90 / 100);
  CHECK(named >= kRuns * 75 / 100);
}

TEST_CASE("nothing is dated where nothing changed, in 98 of 100 series") {
  int found = 0;
  for (unsigned run = 0; run < 1000; ++run)
    found += change_point(noise(40, 5000U + run), {0.0, 1.0}).kind != ChangeKind::none;
  CHECK(found <= 20);
}

TEST_CASE("a slow trend is told from a sudden jump") {
  int named = 0, wrong = 0;
  for (unsigned run = 0; run < 200; ++run) {
    std::vector<double> values = noise(40, 9000U + run);
    for (std::size_t i = 15; i < values.size(); ++i) values[i] += 0.25 * static_cast<double>(i - 14);
    const ChangePoint change = change_point(values, {0.0, 1.0});
    named += change.kind == ChangeKind::trend;
    wrong += change.kind == ChangeKind::jump;
  }
  CHECK(named >= 150);
  CHECK(wrong <= 6);
}

// Weekly shots of a year, all off by the calibration's own error; the share of such years with an alert.
double alerted(double common, bool stated, double ramp = 0.0, std::size_t shots = 52) {
  constexpr int kYears = 1000;
  const double own = std::sqrt(1.0 - common * common);
  int alerts = 0;
  for (int year = 0; year < kYears; ++year) {
    std::vector<double> values = noise(shots + 1, 20000U + static_cast<unsigned>(year));
    const double offset = common * values.back();
    values.pop_back();
    for (std::size_t i = 0; i < shots; ++i) values[i] = offset + own * values[i] + ramp * static_cast<double>(i + 1);
    const ControlChart chart = control_chart(values, {0.0, 1.0, stated ? common : 0.0});
    alerts += chart.first_ewma || chart.first_cusum;
  }
  return alerts / static_cast<double>(kYears);
}

TEST_CASE("a calibration that is off by its own uncertainty raises no more alerts than one that is exact") {
  const double exact = alerted(0.0, false);
  CHECK(exact < 0.18);  // by the run lengths of either chart some 0.13
  for (const double common : {0.3, 0.5, 0.75}) {
    CAPTURE(common);
    CHECK(alerted(common, true) < exact + 0.05);  // three standard deviations of such shares are 0.045
    CHECK(alerted(common, false) > exact + 0.1);  // what would be if it were not taken into account
  }
}

TEST_CASE("and a slow ramp is seen all the same") {
  for (const double common : {0.3, 0.5, 0.75}) {
    CAPTURE(common);
    CHECK(alerted(common, true, 0.1, 17) > 0.5);
    CHECK(alerted(common, true, 0.1, 25) > 0.95);
  }
}

TEST_CASE("an expected offset is what a normal mean with a normal prior gives") {
  // Prior N(0, 0.6^2), shots of 0.8: after y1 = 1 the mean is 0.36 and the variance 0.36 * 0.64 (closed form).
  const ControlChart chart = control_chart(std::vector<double>{1.0, 1.0}, {0.0, 1.0, 0.6});
  CHECK(within(chart.departures[0], 1.0, 1e-12));
  CHECK(within(chart.departures[1], (1.0 - 0.36) / std::sqrt(0.64 + 0.36 * 0.64), 1e-12));
  CHECK_THROWS(control_chart(std::vector<double>{1.0}, {0.0, 1.0, 1.0}));
}

TEST_CASE("charts refuse what they cannot be drawn for") {
  const std::vector<double> values = {0.0, 1.0};
  CHECK_THROWS(control_chart(values, {0.0, 0.0}));
  ChartSettings settings;
  settings.lambda = 1.5;
  CHECK_THROWS(control_chart(values, {0.0, 1.0}, settings));
  CHECK_FALSE(base_of(std::vector<double>{2.0}));
  CHECK_FALSE(base_of(std::vector<double>{2.0, 2.0}));
  CHECK(change_point(std::vector<double>{1.0}, {0.0, 1.0}).kind == ChangeKind::none);
}

TEST_CASE("the picture of a chart has title, description and escaped names, and marks by shape") {
  std::vector<double> values = noise(30, 77);
  for (std::size_t i = 20; i < values.size(); ++i) values[i] += 4.0;
  const ControlChart chart = control_chart(values, {0.0, 1.0});
  const std::string svg =
      control_chart_svg(chart, change_point(values, {0.0, 1.0}), {"a <b> & \"c\"", {"day"}, "%", 100.0, "x"});
  CHECK(svg.starts_with("<svg "));
  CHECK(svg.find("<title>a &lt;b&gt; &amp; &quot;c&quot;</title>") != std::string::npos);
  CHECK(svg.find("<desc>30 shots") != std::string::npos);
  CHECK(svg.find("<path d=") != std::string::npos);
  CHECK(svg.find("nan") == std::string::npos);
  // One value alone, and a line of equal ones, are drawn as well.
  for (const auto& few : {std::vector<double>{0.1}, std::vector<double>(5, 0.0)})
    CHECK(control_chart_svg(control_chart(few, {0.0, 1.0}), {}, {}).find("nan") == std::string::npos);
}

TEST_CASE("the picture for a telephone names its levels in words, and keeps within its width") {
  const ControlChart chart = control_chart(noise(12, 4), {0.0, 1.0});
  const std::string svg = control_chart_svg(chart, {}, {"title", {}, "%", 100.0, ""}, nullptr, ChartWidth::narrow);
  CHECK(svg.find("viewBox=\"0 0 360 ") != std::string::npos);
  CHECK(svg.find("Lines from above: limit, one shot, 300") != std::string::npos);
  for (std::size_t at = svg.find(" x=\""); at != std::string::npos; at = svg.find(" x=\"", at + 1))
    CHECK(std::stod(svg.substr(at + 4)) <= 360.0);
}

TEST_CASE("the picture of a chart has the line of low, middle and high spacings where there is one") {
  const std::vector<double> values = noise(3, 5);
  const ControlChart chart = control_chart(values, {0.0, 1.0});
  const LineChart line{0.2, {{0.1, 0.0, -0.1}, {0.0, 0.0, 0.1}, {0.5, 0.0, 0.0}}, {false, false, true}};
  const std::string with = control_chart_svg(chart, {}, {"title", {}, "%", 100.0, ""}, &line);
  CHECK(with.find("calibration line") != std::string::npos);
  CHECK(with.find(">limit, 0.2") != std::string::npos);
  CHECK(with.find("nan") == std::string::npos);
  CHECK(control_chart_svg(chart, {}, {}).find("calibration line") == std::string::npos);
}

TEST_CASE("a chart says where its base period ends, and draws mean and sums after it only") {
  std::vector<double> values = noise(12, 6);
  const ControlChart chart = control_chart(values, *base_of(std::span(values).first(10)));
  const std::string svg = control_chart_svg(chart, {}, {});
  CHECK(svg.find(">base period<") != std::string::npos);
  const std::size_t mean = svg.find("stroke-width=\"2.5\" points=\"");
  REQUIRE(mean != std::string::npos);
  const std::string points = svg.substr(mean, svg.find("/>", mean) - mean);
  CHECK(std::count(points.begin(), points.end(), ',') == 2);
}

}  // namespace
