// Control charts against the worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods (read in
// transcriptions, save LINEWID.DAT, which is NIST's own file), a printed table of constants, and run lengths.
#include <doctest/doctest.h>
#include <scale/control_chart.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "published/table.h"
#include "support/within.h"

namespace {

using scale::ControlChart;
using test_support::Table;

constexpr double kTwoDecimals = 0.5e-2 + 1e-9;  // what the pages print

TEST_CASE("e-Handbook 6.3.2.4: EWMA with lambda 0.3, limits and all printed values") {
  const Table table("nist_ewma_6324.csv");
  scale::ChartSettings settings;
  settings.lambda = 0.3;
  settings.ewma_limit = 3.0;
  settings.ewma_settled = true;
  const ControlChart chart = scale::control_chart(table.numbers("x"), {50.0, 2.0539}, settings);
  // The page takes sqrt(0.3 / 1.7) as 0.4201.
  CHECK(within(chart.ewma_upper, 52.5884, 2e-4));
  CHECK(within(chart.ewma_lower, 47.4115, 2e-4));
  for (std::size_t i = 0; i < table.rows(); ++i)
    CHECK(within(chart.ewma[i], table.number(i, "ewma_printed"), kTwoDecimals));
  CHECK_FALSE(chart.first_ewma);
}

TEST_CASE("e-Handbook 6.3.2.3: CUSUM signals first at group 14") {
  const Table table("nist_cusum_6323.csv");
  scale::ChartSettings settings;
  settings.cusum_slack = 0.5;
  settings.cusum_limit = 4.1959 / 0.635;
  const ControlChart chart = scale::control_chart(table.numbers("xbar"), {325.0, 0.635}, settings);
  CHECK(within(chart.cusum_decision, 4.1959, 1e-9));
  for (std::size_t i = 0; i < table.rows(); ++i) {
    CAPTURE(i);
    CHECK(within(chart.cusum_high[i], table.number(i, "S_hi_printed"), kTwoDecimals));
    CHECK(within(chart.cusum_low[i], table.number(i, "S_lo_printed"), kTwoDecimals));
    CHECK((chart.cusum_high[i] > chart.cusum_decision) == (table.number(i, "group") >= 14));
    CHECK(chart.cusum_low[i] < chart.cusum_decision);
  }
  REQUIRE(chart.first_cusum);
  CHECK(*chart.first_cusum == 13);
}

TEST_CASE("e-Handbook 6.3.2.2: individuals with the moving range, in control") {
  const std::vector<double> flow = Table("nist_individuals_6322.csv").numbers("flowrate");
  double mean = 0.0, mean_range = 0.0;
  for (const double value : flow) mean += value / static_cast<double>(flow.size());
  for (std::size_t i = 1; i < flow.size(); ++i)
    mean_range += std::abs(flow[i] - flow[i - 1]) / static_cast<double>(flow.size() - 1);
  // The page takes centre and sigma as exact: no base period, whose limits are wider.
  const ControlChart chart = scale::control_chart(flow, {mean, mean_range / scale::range_constant_d2(2)});
  CHECK(within(mean, 50.81, kTwoDecimals));
  CHECK(within(mean_range, 1.8778, 0.5e-4));
  CHECK(within(chart.upper, 55.8041, 1e-4));
  CHECK(within(chart.lower, 45.8159, 1e-4));
  CHECK_FALSE(chart.first_beyond);
  CHECK_FALSE(chart.first_range);
}

TEST_CASE("constants of ranges as the table prints them; d2 of two is 2 / sqrt(pi)") {
  const Table table("shewhart_constants.csv");
  for (std::size_t i = 0; i < table.rows() && table.number(i, "n") <= 10; ++i) {
    const int n = static_cast<int>(table.number(i, "n"));
    CHECK(scale::range_constant_d2(n) == table.number(i, "d2"));
    CHECK(scale::range_constant_D4(n) == table.number(i, "D4"));
    // 1 + 3 d3 / d2, by the table's own d3.
    CHECK(within(scale::range_constant_D4(n), 1.0 + 3.0 * table.number(i, "d3") / table.number(i, "d2"), 2e-3));
  }
  CHECK(within(scale::range_constant_d2(2), 2.0 / std::sqrt(std::acos(-1.0)), 0.5e-3));
  CHECK_THROWS(scale::range_constant_d2(11));
}

TEST_CASE("e-Handbook 2.3.7.1: the line of LINEWID is out of control on day 4 at all three spacings") {
  const Table table("nist_linewid.csv");
  std::vector<std::vector<scale::CheckStandard>> days(6);
  for (std::size_t i = 0; i < table.rows(); ++i)
    days[static_cast<std::size_t>(table.number(i, "day")) - 1].push_back(
        {table.number(i, "x_ref_um"), table.number(i, "y_meas_um")});
  const scale::CalibrationLine line{0.2357, 0.9870, 0.06203, 38.0};
  const scale::LineChart chart = scale::line_chart(days, line);
  CHECK(within(chart.limit, 0.156965, 2e-6));  // computed; the page is read as +-0.157
  // An older edition of the page has another line.
  CHECK(within(scale::line_chart(days, {0.2817, 0.9767, 0.06826, 38.0}).limit, 0.174552, 2e-6));
  double squares = 0.0, sum = 0.0;
  for (std::size_t day = 0; day < days.size(); ++day) {
    CHECK(chart.out[day] == (day == 3));
    for (const double w : chart.control[day]) {
      sum += w, squares += w * w;
      CHECK((std::abs(w) > chart.limit) == (day == 3));
    }
  }
  CHECK(within(chart.control[3][0], -0.2288, 1e-4));
  CHECK(within(chart.control[3][1], 0.2706, 1e-4));
  CHECK(within(chart.control[3][2], 0.2937, 1e-4));
  // The standard deviation of all 18 control values, as printed with the Handbook's example.
  CHECK(within(std::sqrt((squares - sum * sum / 18.0) / 17.0), 0.1193572, 1e-5));
}

// Shots until a chart first signals, with the values shifted from the start.
enum class Chart { shewhart, ewma, cusum };

double mean_run_length(Chart which, double shift, int runs, unsigned seed) {
  std::mt19937_64 bits(seed);
  std::normal_distribution<double> normal;
  const scale::ChartSettings settings;
  const double keep = 1.0 - settings.lambda;
  double total = 0.0;
  for (int run = 0; run < runs; ++run) {
    double ewma = 0.0, high = 0.0, low = 0.0, variance = 0.0;
    for (bool signal = false; !signal; ++total) {
      const double y = normal(bits) + shift;
      variance = keep * keep * variance + settings.lambda * settings.lambda;
      ewma = settings.lambda * y + (1.0 - settings.lambda) * ewma;
      high = std::max(0.0, high + y - settings.cusum_slack);
      low = std::max(0.0, low - y - settings.cusum_slack);
      signal = which == Chart::shewhart ? std::abs(y) > settings.shewhart_limit
               : which == Chart::ewma   ? std::abs(ewma) > settings.ewma_limit * std::sqrt(variance)
                                        : std::max(high, low) > settings.cusum_limit;
    }
  }
  return total / runs;
}

// The first alert of the chart itself over so many values, the same recursion through the library.
std::optional<std::size_t> first_alert(Chart which, const std::vector<double>& values) {
  const ControlChart chart = scale::control_chart(values, {0.0, 1.0});
  return which == Chart::shewhart ? chart.first_beyond : which == Chart::ewma ? chart.first_ewma : chart.first_cusum;
}

TEST_CASE("average run lengths: the library's charts signal when the recursions do") {
  std::mt19937_64 bits(11);
  std::normal_distribution<double> normal;
  for (const double shift : {0.5, 1.0, 2.0})
    for (const Chart which : {Chart::shewhart, Chart::ewma, Chart::cusum}) {
      double total = 0.0;
      int runs = 0;
      for (; runs < 400; ++runs) {
        std::vector<double> values(600);
        for (double& value : values) value = normal(bits) + shift;
        const auto first = first_alert(which, values);
        total += first ? static_cast<double>(*first) + 1.0 : 600.0;
      }
      const double expected = mean_run_length(which, shift, 4000, 12);
      // Run lengths scatter by about their mean: four standard deviations of 400.
      CHECK(within(total / runs, expected, 4.0 * expected / std::sqrt(400.0)));
    }
}

// Average run lengths by 3000 simulations each, standard error about 2 % (from the project's own tables; Shewhart's 370
// and 44 are those of the trade, from memory).
TEST_CASE("average run lengths of the default settings are those of the table") {
  struct Row {
    double shift, shewhart, ewma, cusum;
  };
  constexpr Row kTable[] = {{0, 370, 497, 466},  {0.5, 155, 40, 38}, {1, 44, 9.4, 10.3},
                            {1.5, 15, 4.6, 5.7}, {2, 6.3, 2.8, 4.0}, {3, 2.0, 1.6, 2.6}};
  for (const Row& row : kTable) {
    CAPTURE(row.shift);
    CHECK(within(mean_run_length(Chart::shewhart, row.shift, 4000, 21), row.shewhart, 0.08 * row.shewhart));
    CHECK(within(mean_run_length(Chart::ewma, row.shift, 4000, 22), row.ewma, 0.08 * row.ewma));
    CHECK(within(mean_run_length(Chart::cusum, row.shift, 4000, 23), row.cusum, 0.08 * row.cusum));
  }
}

}  // namespace
