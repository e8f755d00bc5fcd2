#include <algorithm>
#include <cmath>

#include <scale/lab.h>

#include "report/chart.h"

namespace scale::report {
namespace {

double round_step(double least) {
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double factor : {1.0, 2.0, 5.0})
    if (factor * power >= least * (1.0 - 1e-9)) return factor * power;
  return 10.0 * power;
}

int decimals_of_step(double step) { return std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9))); }

std::string padded(unsigned value) {
  std::string text = value < 10 ? "0" : "";
  return text.append(std::to_string(value));
}

using Days = std::chrono::sys_days;

Days day_at(double days) { return Days(std::chrono::days(static_cast<int>(std::floor(days)))); }
double value_of(Days day) { return static_cast<double>(day.time_since_epoch().count()); }

void add_month_ticks(Axis& axis, int step) {
  using namespace std::chrono;
  const year_month_day first(day_at(axis.low));
  int month = static_cast<int>(first.year()) * 12 + static_cast<int>(static_cast<unsigned>(first.month())) - 1;
  month -= month % step;
  for (;; month += step) {
    const year_month_day at(year(month / 12), std::chrono::month(static_cast<unsigned>(month % 12 + 1)), day(1));
    const double value = value_of(Days(at));
    if (value > axis.high) return;
    if (value < axis.low) continue;
    std::string label = std::to_string(month / 12);
    if (step < 12) label.append("-").append(padded(static_cast<unsigned>(month % 12 + 1)));
    axis.ticks.push_back({value, label});
  }
}

void add_day_ticks(Axis& axis, int step) {
  for (double value = std::ceil(axis.low / step) * step; value <= axis.high; value += step) {
    const std::chrono::year_month_day at(day_at(value));
    std::string label = std::to_string(static_cast<int>(at.year()));
    label.append("-").append(padded(static_cast<unsigned>(at.month())));
    axis.ticks.push_back({value, label.append("-").append(padded(static_cast<unsigned>(at.day())))});
  }
}

}  // namespace

Axis number_axis(const std::string& label, double low, double high, int most, NumberStyle style, bool whole) {
  if (!(high > low)) {
    const double room = low == 0.0 ? 1.0 : 0.1 * std::abs(low);
    low -= room;
    high += room;
  }
  const double step = round_step((high - low) / std::max(1, most));
  Axis axis{label, low, high, {}};
  const double room = 0.04 * (high - low);
  axis.low = whole ? step * std::floor(low / step + 1e-9) : low - room;
  axis.high = whole ? step * std::ceil(high / step - 1e-9) : high + room;
  const int decimals = decimals_of_step(step);
  for (double n = std::ceil(axis.low / step - 1e-9); n * step <= axis.high + 1e-9 * step; n += 1.0)
    axis.ticks.push_back({n * step, fixed(n * step, decimals, style)});
  return axis;
}

double days_of(const std::string& utc) {
  const auto day = parse_date(std::string_view(utc).substr(0, 10));
  if (!day) return 0.0;
  double value = value_of(Days(*day));
  if (utc.size() == 20 && utc[10] == 'T') {
    const auto two = [&](std::size_t at) { return 10.0 * (utc[at] - '0') + (utc[at + 1] - '0'); };
    value += (two(11) + two(14) / 60.0) / 24.0;
  }
  return value;
}

Axis time_axis(double low, double high, int most) {
  constexpr double kLeastSpan = 10.0;  // days
  const double room = std::max(0.05 * (high - low), 0.5 * (kLeastSpan - (high - low)));
  Axis axis{"day", low - room, high + room, {}};
  const double span = axis.high - axis.low;
  for (const int days : {1, 2, 5, 10})
    if (axis.ticks.empty() && span / days <= most) add_day_ticks(axis, days);
  for (const int months : {1, 2, 3, 6, 12, 24, 60, 120})
    if (axis.ticks.empty() && span / (30.4 * months) <= most) add_month_ticks(axis, months);
  return axis;
}

}  // namespace scale::report
