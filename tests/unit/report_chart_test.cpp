// Axes, marks and the charts made of them.
#include <doctest/doctest.h>

#include <cmath>

#include "report/charts.h"
#include "support/within.h"

namespace scale::report {
namespace {

constexpr double kExact = 1e-9;  // of a coordinate

std::size_t count_of(const std::string& text, const std::string& what) {
  std::size_t count = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size())) ++count;
  return count;
}

TEST_CASE("ticks stand at round numbers inside the axis") {
  const Axis axis = number_axis("x", -0.123, 0.456, 6, {});
  REQUIRE(axis.ticks.size() >= 4);
  CHECK(axis.ticks.size() <= 8);
  for (const Tick& tick : axis.ticks) {
    CHECK(tick.value >= axis.low);
    CHECK(tick.value <= axis.high);
    CHECK(within(std::remainder(tick.value, 0.1), 0.0, kExact));
  }
  CHECK(axis.ticks.front().label == "\u22120.1");
}

TEST_CASE("an axis of one value has room on both sides, and no value makes it fail") {
  for (const double value : {0.0, 5.0, -3e-9, 1e12}) {
    const Axis axis = number_axis("x", value, value, 5, {});
    CHECK(axis.low < value);
    CHECK(axis.high > value);
    CHECK(axis.ticks.size() < 20);
  }
}

TEST_CASE("a whole axis begins and ends at a tick") {
  const Axis axis = number_axis("x", 0.0, 0.87, 5, {}, true);
  CHECK(within(axis.low, 0.0, kExact));
  CHECK(within(axis.high, 1.0, kExact));
}

TEST_CASE("days are counted from 1970 and a time axis has dates") {
  CHECK(within(days_of("1970-01-02"), 1.0, kExact));
  CHECK(within(days_of("2000-01-01T12:00:00Z"), 10957.5, kExact));
  CHECK(within(days_of("no day"), 0.0, kExact));
  const Axis years = time_axis(days_of("2020-03-01"), days_of("2026-03-01"), 8);
  REQUIRE(!years.ticks.empty());
  CHECK(years.ticks.front().label == "2020");
  CHECK(years.ticks.size() <= 9);
  const Axis one = time_axis(days_of("2026-02-28"), days_of("2026-02-28"), 8);
  CHECK(one.ticks.size() >= 3);
  const Axis months = time_axis(days_of("2026-01-10"), days_of("2026-06-20"), 8);
  REQUIRE(!months.ticks.empty());
  CHECK(months.ticks.front().label.size() == 7);
}

TEST_CASE("a chart is named for who cannot see it, and its text is escaped") {
  RulingResiduals residuals{"<a>&\"b\".png", 'x', true, {{100.0, 0.02, 0.001, true}, {110.0, 0.5, 0.001, false}}, {}};
  const std::string svg = residual_chart(residuals, 0.1, "r-1", {});
  // Two layouts, each with names of its own: an id stands once in a page.
  CHECK(count_of(svg, "role=\"img\"") == 2);
  CHECK(count_of(svg, "class=\"chart broad\"") == 1);
  CHECK(count_of(svg, "class=\"chart narrow\"") == 1);
  CHECK(count_of(svg, "id=\"r-1-t\"") == 1);
  CHECK(count_of(svg, "id=\"r-1-n-t\"") == 1);
  CHECK(svg.find("aria-labelledby=\"r-1-t r-1-d\"") != std::string::npos);
  CHECK(svg.find("<title id=\"r-1-t\">") != std::string::npos);
  CHECK(svg.find("&lt;a&gt;&amp;&quot;b&quot;.png") != std::string::npos);
  CHECK(svg.find("<a>") == std::string::npos);
  CHECK(svg.find("2 graduations") != std::string::npos);
  CHECK(svg.find("1 left out") != std::string::npos);
  CHECK(svg.find("µm") != std::string::npos);
}

TEST_CASE("marks differ in shape where they differ in meaning") {
  const std::string used = residual_chart({"a", 'x', true, {{100.0, 0.0, 0.0, true}}, {}}, 0.1, "r", {});
  const std::string left = residual_chart({"a", 'x', true, {{100.0, 0.0, 0.0, false}}, {}}, 0.1, "r", {});
  CHECK(count_of(used, "<circle") == 2);  // one a layout
  CHECK(count_of(left, "<circle") == 0);
  CHECK(left.find("class=\"left-out\"") != std::string::npos);
  for (const SetupState one : {SetupState::in_order, SetupState::due_soon, SetupState::overdue,
                               SetupState::not_calibrated, SetupState::drifted})
    CHECK(!state_sign(one).empty());
}

TEST_CASE("labels beneath an axis stand apart, and on a telephone there are fewer of them") {
  std::vector<HistoryPoint> history(2);
  history[0].made_at = "2024-01-10T08:00:00Z", history[1].made_at = "2026-02-10T08:00:00Z";
  for (HistoryPoint& point : history) point.value = 0.5, point.expanded_uncertainty = 0.01, point.state = "current";
  const std::string svg = history_chart(history, "µm/px", "h", {});
  const std::size_t narrow = svg.find("class=\"chart narrow\"");
  REQUIRE(narrow != std::string::npos);
  const std::string first = svg.substr(0, narrow), second = svg.substr(narrow);
  CHECK(count_of(second, ">202") < count_of(first, ">202"));
  CHECK(count_of(second, ">202") >= 2);
}

TEST_CASE("a graduation far out stays inside the frame") {
  const std::string svg =
      residual_chart({"a", 'x', true, {{0.0, 99.0, 0.5, false}, {10.0, 0.0, 0.0, true}}, {}}, 0.1, "r", {});
  CHECK(svg.find("NaN") == std::string::npos);
  CHECK(svg.find("cy=\"-") == std::string::npos);
}

TEST_CASE("the spectrum marks the found pitch at its frequency") {
  LineProfile profile{"a", 'x', 10.0, {0, 1, 2, 3}, {10, 20, 10, 20}, {0.05, 0.1, 0.2}, {1.0, 8.0, 2.0}};
  const std::string svg = spectrum_chart(profile, "s", {});
  CHECK(svg.find("found pitch 10.000 px") != std::string::npos);
  CHECK(svg.find("class=\"found\"") != std::string::npos);
}

TEST_CASE("the map of the local scale prints every departure with its sign, the narrow one what is clear") {
  const std::vector<LocalScale> places = {
      {100.0, 50.0, 'x', 0.0012, 0.0001}, {300.0, 50.0, 'x', -0.0008, 0.0001}, {200.0, 90.0, 'y', 0.0001, 0.0005}};
  const std::string svg = local_scale_map(places, 640, 480, "f", {true});
  CHECK(svg.find("+1,20") != std::string::npos);
  CHECK(svg.find("\u22120,80") != std::string::npos);
  CHECK(count_of(svg, "class=\"unclear\"") == 2);
  CHECK(count_of(svg, "+1,20") == 2);
  CHECK(count_of(svg, "+0,10") == 1);
}

TEST_CASE("a sparkline says in words what it shows") {
  const std::vector<SparkPoint> checks = {{"2026-01-01T08:00:00Z", 0.0001, true},
                                          {"2026-02-01T08:00:00Z", 0.004, false}};
  const std::string svg = sparkline(checks, "k", {});
  CHECK(svg.find("2 checks, 1 not within limits, largest change 0.40 %") != std::string::npos);
  CHECK(sparkline({}, "k", {}).find("no checks") != std::string::npos);
}

TEST_CASE("a share's bar never leaves its room") {
  CHECK(share_bar(0.5).find("width=\"50\"") != std::string::npos);
  CHECK(share_bar(7.0).find("width=\"100\"") != std::string::npos);
  CHECK(share_bar(-1.0).find("width=\"0\"") != std::string::npos);
}

}  // namespace
}  // namespace scale::report
