#include <algorithm>
#include <cmath>

#include "report/charts.h"
#include "report/html.h"

namespace scale::report {
namespace {

constexpr int kSparkWidth = 150, kSparkHeight = 30;

struct Look {
  Mark mark;
  const char* css_class;
};

Look look_of(const HistoryPoint& point) {
  if (point.state == "withdrawn") return {Mark::cross, "left-out"};
  return point.state == "current" ? Look{Mark::disc, "measured"} : Look{Mark::ring, "former"};
}

}  // namespace

std::string history_chart(std::span<const HistoryPoint> history, const std::string& unit, const std::string& id,
                          NumberStyle style) {
  double first = 1e300, last = -1e300, low = 1e300, high = -1e300;
  for (const HistoryPoint& point : history) {
    first = std::min(first, days_of(point.made_at));
    last = std::max(last, days_of(point.made_at));
    low = std::min(low, point.value - point.expanded_uncertainty);
    high = std::max(high, point.value + point.expanded_uncertainty);
  }
  const std::string count = std::to_string(history.size());
  Chart chart({id, "History of the factor",
               count + (history.size() == 1 ? " calibration" : " calibrations") + ", bars of U; from " +
                   significant(low, 5, style) + " to " + significant(high, 5, style) + " " + unit + "."},
              190, time_axis(first, last, 8), number_axis(unit, low, high, 5, style));
  for (const HistoryPoint& point : history) {
    const double day = days_of(point.made_at);
    const Look look = look_of(point);
    chart.upright(day, point.value - point.expanded_uncertainty, point.value + point.expanded_uncertainty, "bar");
    chart.mark(look.mark, day, point.value, look.css_class);
  }
  return chart.svg();
}

std::string sparkline(std::span<const SparkPoint> points, const std::string& id, NumberStyle style) {
  if (points.empty()) return "<span class=\"none\">no checks</span>";
  double most = 1e-9;
  for (const SparkPoint& point : points) most = std::max(most, std::abs(point.value));
  const auto outside =
      std::count_if(points.begin(), points.end(), [](const SparkPoint& point) { return !point.within; });
  const double first = days_of(points.front().made_at), last = days_of(points.back().made_at);
  const auto x = [&](const SparkPoint& point) {
    const double share = last > first ? (days_of(point.made_at) - first) / (last - first) : 0.5;
    return 5.0 + share * (kSparkWidth - 10.0);
  };
  const auto y = [&](double value) { return 0.5 * kSparkHeight - value / most * (0.5 * kSparkHeight - 4.0); };
  std::string line, marks;
  for (const SparkPoint& point : points) {
    line += (line.empty() ? "M" : "L") + coordinate(x(point)) + " " + coordinate(y(point.value));
    if (point.within) continue;
    marks += "M" + coordinate(x(point) - 2.5) + " " + coordinate(y(point.value) - 2.5) + "l5 5m0 -5l-5 5";
  }
  const std::string words = std::to_string(points.size()) + (points.size() == 1 ? " check, " : " checks, ") +
                            std::to_string(outside) + " not within limits, largest change " +
                            significant(100.0 * most, 2, style) + " %";
  std::string svg = "<svg class=\"spark\" viewBox=\"0 0 150 30\" role=\"img\" aria-labelledby=\"" + id +
                    "\"><title id=\"" + id + "\">" + escaped(words) +
                    "</title><path class=\"hair\" d=\"M0 15H150\"/><path class=\"trace\" d=\"" + line + "\"/>";
  if (!marks.empty()) svg += "<path class=\"left-out\" d=\"" + marks + "\"/>";
  if (points.size() == 1)
    svg += "<circle class=\"measured\" r=\"2.5\" cx=\"" + coordinate(x(points[0])) + "\" cy=\"" +
           coordinate(y(points[0].value)) + "\"/>";
  return svg + "</svg>";
}

std::string state_sign(SetupState state) {
  switch (state) {
    case SetupState::in_order:
      return mark_svg(Mark::disc, "sign good");
    case SetupState::due_soon:
      return mark_svg(Mark::triangle, "sign soon");
    case SetupState::images_astray:
      return mark_svg(Mark::diamond, "sign soon");
    case SetupState::overdue:
      return mark_svg(Mark::square, "sign bad");
    case SetupState::not_calibrated:
      return mark_svg(Mark::ring, "sign open");
    case SetupState::drifted:
      return mark_svg(Mark::cross, "sign crossed");
  }
  return "";
}

}  // namespace scale::report
