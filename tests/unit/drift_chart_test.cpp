// Since when, by how much, sudden or slow; and the picture of it.
#include <doctest/doctest.h>
#include <scale/chart_svg.h>
#include <scale/control_chart.h>

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

}  // namespace
