#include <scale/control_chart.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "numeric/distributions.h"
#include "numeric/straight_line.h"

namespace scale {
namespace {

// Control-chart constants as printed in the tables of the trade (tests/published holds them to one).
constexpr std::array<double, 9> kD2{1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078};
constexpr std::array<double, 9> kD4{3.267, 2.574, 2.282, 2.114, 2.004, 1.924, 1.864, 1.816, 1.777};

double constant_of(const std::array<double, 9>& table, int sample) {
  if (sample < 2 || sample > 10) throw std::invalid_argument("control chart: samples have 2 to 10 values");
  return table[static_cast<std::size_t>(sample - 2)];
}

std::vector<double> moving_range(std::span<const double> values) {
  std::vector<double> range;
  for (std::size_t i = 1; i < values.size(); ++i) range.push_back(std::abs(values[i] - values[i - 1]));
  return range;
}

void require_sound(std::size_t count, const ChartBase& base, const ChartSettings& settings) {
  const bool sound = base.period != 1 && base.period <= count && base.sigma > 0.0 && base.centre_uncertainty >= 0.0 &&
                     base.centre_uncertainty < base.sigma && std::isfinite(base.sigma) && std::isfinite(base.centre) &&
                     settings.lambda > 0.0 && settings.lambda <= 1.0 && settings.ewma_limit > 0.0 &&
                     settings.cusum_slack > 0.0 && settings.cusum_limit > 0.0 && settings.shewhart_limit > 0.0;
  if (!sound)
    throw std::invalid_argument(
        "control chart: sigma, lambda and limits must be positive, lambda at most 1, the centre known better than a "
        "shot, a base period of two values or more");
}

template <class Beyond>
std::optional<std::size_t> first_where(std::size_t count, const Beyond& beyond) {
  for (std::size_t i = 0; i < count; ++i)
    if (beyond(i)) return i;
  return std::nullopt;
}

// Of the values after a base period, in units of sigma times sigma.
std::vector<double> self_starting(std::span<const double> values, const ChartBase& base) {
  std::vector<double> list(base.period, 0.0);
  double mean = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto before = static_cast<double>(i);
    const double off = values[i] - mean;
    if (i >= base.period) {
      const double t = off / std::sqrt(squares / (before - 1.0) * (1.0 + 1.0 / before));
      list.push_back(base.sigma * numeric::normal_score_of_t(t, before - 1.0));
    }
    mean += off / (before + 1.0);
    squares += off * (values[i] - mean);
  }
  return list;
}

// What stands for `sigmas` where sigma is that of the base period: the value of Student's t that is exceeded as often.
double factor_for(double sigmas, const ChartBase& base) {
  if (base.period == 0) return sigmas;
  return numeric::student_t_quantile(std::erf(sigmas / std::sqrt(2.0)), static_cast<double>(base.period) - 1.0);
}

void set_limits_of_shots(ControlChart& chart) {
  const ChartBase& base = chart.base;
  const double new_mean = base.period == 0 ? 1.0 : std::sqrt(1.0 + 1.0 / static_cast<double>(base.period));
  const double reach = factor_for(chart.settings.shewhart_limit, base) * base.sigma * new_mean;
  chart.lower = base.centre - reach;
  chart.upper = base.centre + reach;
  // A difference of two values scatters by sqrt(2) sigma.
  const double ranges = range_constant_D4(2) * range_constant_d2(2) / std::sqrt(2.0);
  chart.range_upper = factor_for(ranges, base) * std::sqrt(2.0) * base.shot_sigma();
}

// What each value departs from what the centre and the values before it let expect, in units of sigma times sigma.
std::vector<double> departures_of(std::span<const double> values, const ChartBase& base) {
  if (base.period > 0) return self_starting(values, base);
  const double shot = base.shot_sigma() * base.shot_sigma();
  double expected = base.centre, variance = base.centre_uncertainty * base.centre_uncertainty;
  std::vector<double> list;
  for (const double value : values) {
    list.push_back((value - expected) * base.sigma / std::sqrt(shot + variance));
    const double gain = variance / (shot + variance);
    expected += gain * (value - expected);
    variance *= 1.0 - gain;
  }
  return list;
}

void run_statistics(ControlChart& chart) {
  const double centre = chart.base.centre, sigma = chart.base.sigma;
  double ewma = centre, high = 0.0, low = 0.0, left = 1.0;  // what is left of the start in the variance
  const double settled = chart.ewma_upper - centre, keep = 1.0 - chart.settings.lambda;
  for (std::size_t i = 0; i < chart.departures.size(); ++i) {
    const double departure = chart.departures[i];
    const bool running = i >= chart.base.period;
    if (running) left *= keep * keep;
    chart.ewma_reach.push_back(chart.settings.ewma_settled ? settled : settled * std::sqrt(1.0 - left));
    if (running) ewma = chart.settings.lambda * (centre + departure) + keep * ewma;
    high = std::max(0.0, high + departure - chart.settings.cusum_slack * sigma);
    low = std::max(0.0, low - departure - chart.settings.cusum_slack * sigma);
    chart.ewma.push_back(ewma);
    chart.cusum_high.push_back(high);
    chart.cusum_low.push_back(low);
  }
}

}  // namespace

double range_constant_d2(int sample) { return constant_of(kD2, sample); }
double range_constant_D4(int sample) { return constant_of(kD4, sample); }

std::optional<ChartBase> base_of(std::span<const double> values) {
  if (values.size() < 2) return std::nullopt;
  ChartBase base;
  const auto count = static_cast<double>(values.size());
  for (const double value : values) base.centre += value / count;
  for (const double value : values) base.sigma += (value - base.centre) * (value - base.centre) / (count - 1.0);
  base.sigma = std::sqrt(base.sigma);
  base.period = values.size();
  return base.sigma > 0.0 ? std::optional(base) : std::nullopt;
}

double ChartBase::shot_sigma() const { return std::sqrt(sigma * sigma - centre_uncertainty * centre_uncertainty); }

bool ControlChart::beyond(std::size_t place) const {
  return place >= base.period && (values[place] < lower || values[place] > upper);
}

bool ControlChart::range_beyond(std::size_t place) const {
  return place >= std::max<std::size_t>(base.period, 1) && moving_range[place - 1] > range_upper;
}

std::optional<std::size_t> ControlChart::first_alert() const {
  std::optional<std::size_t> first;
  for (const auto& alert : {first_beyond, first_ewma, first_cusum})
    if (alert && (!first || *alert < *first)) first = alert;
  return first;
}

ControlChart control_chart(std::span<const double> values, const ChartBase& base, const ChartSettings& settings) {
  require_sound(values.size(), base, settings);
  ControlChart chart;
  chart.base = base;
  chart.settings = settings;
  chart.values.assign(values.begin(), values.end());
  chart.moving_range = moving_range(values);
  chart.departures = departures_of(values, base);
  set_limits_of_shots(chart);
  const double reach = settings.ewma_limit * base.sigma * std::sqrt(settings.lambda / (2.0 - settings.lambda));
  chart.ewma_lower = base.centre - reach;
  chart.ewma_upper = base.centre + reach;
  chart.cusum_decision = settings.cusum_limit * base.sigma;
  run_statistics(chart);
  const std::size_t n = chart.values.size();
  chart.first_beyond = first_where(n, [&](std::size_t i) { return chart.beyond(i); });
  chart.first_ewma =
      first_where(n, [&](std::size_t i) { return std::abs(chart.ewma[i] - base.centre) > chart.ewma_reach[i]; });
  chart.first_cusum = first_where(
      n, [&](std::size_t i) { return std::max(chart.cusum_high[i], chart.cusum_low[i]) > chart.cusum_decision; });
  chart.first_range = first_where(n, [&](std::size_t i) { return chart.range_beyond(i); });
  return chart;
}

CalibrationLine calibration_line(std::span<const CheckStandard> base) {
  std::vector<double> x, y;
  for (const CheckStandard& standard : base) {
    x.push_back(standard.reference);
    y.push_back(standard.measured);
  }
  const numeric::StraightLine line = numeric::fit_line(x, y);
  if (!line.valid || line.degrees_of_freedom < 1)
    throw std::invalid_argument("calibration line: three readings of two lengths or more are needed");
  return {line.intercept, line.slope, line.residual_sd, static_cast<double>(line.degrees_of_freedom)};
}

LineChart line_chart(std::span<const std::vector<CheckStandard>> occasions, const CalibrationLine& line, double alpha) {
  std::size_t standards = 1;
  for (const auto& occasion : occasions) standards = std::max(standards, occasion.size());
  // Each of m standards is given the share that leaves alpha to all of them together.
  const double zeta = 0.5 * (1.0 - std::exp(std::log(1.0 - alpha) / static_cast<double>(standards)));
  LineChart chart;
  chart.limit = numeric::student_t_quantile(1.0 - 2.0 * zeta, line.degrees_of_freedom) * line.residual_sd / line.slope;
  for (const auto& occasion : occasions) {
    std::vector<double> control;
    for (const CheckStandard& standard : occasion)
      control.push_back((standard.measured - line.intercept) / line.slope - standard.reference);
    chart.out.push_back(
        std::any_of(control.begin(), control.end(), [&](double w) { return std::abs(w) > chart.limit; }));
    chart.control.push_back(std::move(control));
  }
  return chart;
}

}  // namespace scale
