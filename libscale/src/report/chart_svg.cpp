#include <scale/chart_svg.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "report/chart.h"
#include "report/html.h"
#include "report/numbers.h"

namespace scale {
namespace {

// Okabe and Ito's colours, which readers of every kind of colour vision tell apart.
constexpr const char* kBlue = "#0072B2";
constexpr const char* kVermilion = "#D55E00";
constexpr const char* kGreen = "#009E73";
constexpr double kWidth = 960.0, kLeft = 84.0, kRight = 790.0;
constexpr std::size_t kMostLabels = 8;

using report::coordinate;
using report::escaped;
using report::fixed;

// One of the stacked charts with the values it must have room for.
struct Panel {
  double top = 0.0, bottom = 0.0, least = 0.0, most = 0.0;
  std::size_t count = 1;

  double x(std::size_t i) const {
    return kLeft + (kRight - kLeft) * (static_cast<double>(i) + 0.5) / static_cast<double>(count);
  }
  double y(double value) const { return bottom - (bottom - top) * (value - least) / (most - least); }
  void include(double value) {
    least = std::min(least, value);
    most = std::max(most, value);
  }
  void breathe() {
    const double room = most > least ? 0.08 * (most - least) : 1.0;
    least -= room;
    most += room;
  }
};

// What stands beside a panel, at a height.
struct Label {
  double y = 0.0;
  std::string text;
};

// Moved apart where they would lie over each other, each bunch about the middle of where its labels belong.
std::vector<Label> apart(std::vector<Label> labels) {
  constexpr double kLine = 14.0;
  struct Bunch {
    double top = 0.0;  // of its first label
    std::size_t count = 1;
    double end() const { return top + kLine * static_cast<double>(count); }
  };
  std::stable_sort(labels.begin(), labels.end(), [](const Label& a, const Label& b) { return a.y < b.y; });
  std::vector<Bunch> bunches;
  for (const Label& label : labels) {
    bunches.push_back({label.y, 1});
    while (bunches.size() > 1 && bunches[bunches.size() - 2].end() > bunches.back().top) {
      const Bunch last = bunches.back();
      bunches.pop_back();
      Bunch& joined = bunches.back();
      const auto before = static_cast<double>(joined.count), after = static_cast<double>(last.count);
      joined.top = (before * joined.top + after * (last.top - kLine * before)) / (before + after);
      joined.count += last.count;
    }
  }
  std::size_t next = 0;
  for (const Bunch& bunch : bunches)
    for (std::size_t i = 0; i < bunch.count; ++i) labels[next++].y = bunch.top + kLine * static_cast<double>(i);
  return labels;
}

class Drawing {
 public:
  Drawing(const ControlChart& chart, const ChangePoint& change, const ControlChartText& text, const LineChart* line)
      : chart_(chart), change_(change), text_(text), line_chart_(line) {}
  std::string whole();

 private:
  std::string shown(double value) const {
    const double step = text_.per_unit * chart_.base.sigma;
    const int decimals = step > 0.0 ? std::clamp(1 - static_cast<int>(std::floor(std::log10(step))), 0, 6) : 3;
    return fixed(text_.per_unit * value, decimals, {text_.decimal_comma});
  }
  void line(double x1, double y1, double x2, double y2, const std::string& style) {
    svg_ += "<line x1=\"" + coordinate(x1) + "\" y1=\"" + coordinate(y1) + "\" x2=\"" + coordinate(x2) + "\" y2=\"" +
            coordinate(y2) + "\" " + style + "/>\n";
  }
  void words(double x, double y, const std::string& text, const std::string& style = "") {
    svg_ += "<text x=\"" + coordinate(x) + "\" y=\"" + coordinate(y) + "\"" + (style.empty() ? "" : " " + style) + ">" +
            escaped(text) + "</text>\n";
  }
  void level(const Panel& panel, double value, const std::string& name, const std::string& style) {
    line(kLeft, panel.y(value), kRight, panel.y(value), style);
    names_.push_back({panel.y(value), name + ", " + shown(value)});
  }
  // What the levels drawn so far are.
  void labels() {
    for (const Label& name : apart(std::exchange(names_, {}))) words(kRight + 8.0, name.y + 4.0, name.text);
  }
  void frame(const Panel& panel, const std::string& title) {
    words(kLeft, panel.top - 10.0, title, "font-weight=\"600\"");
    line(kLeft, panel.top, kLeft, panel.bottom, "stroke=\"#000\"");
    line(kLeft, panel.bottom, kRight, panel.bottom, "stroke=\"#000\"");
    constexpr double kRoomOfTick = 30.0;
    const report::Axis axis =
        report::number_axis("", text_.per_unit * panel.least, text_.per_unit * panel.most,
                            static_cast<int>((panel.bottom - panel.top) / kRoomOfTick), {text_.decimal_comma});
    for (const report::Tick& tick : axis.ticks) {
      const double y = panel.y(tick.value / text_.per_unit);
      if (y < panel.top || y > panel.bottom) continue;
      line(kLeft - 5.0, y, kLeft, y, "stroke=\"#000\"");
      words(kLeft - 9.0, y + 4.0, tick.label, "text-anchor=\"end\"");
    }
  }
  // From the first shot after the base period on; of a single one a dash.
  void path(const Panel& panel, const std::vector<double>& values, const std::string& style) {
    const std::size_t first = chart_.base.period;
    if (first >= values.size()) return;
    constexpr double kHalfDash = 12.0;
    const double reach = first + 1 == values.size() ? kHalfDash : 0.0;
    std::string points = coordinate(panel.x(first) - reach) + ',' + coordinate(panel.y(values[first]));
    for (std::size_t i = first + 1; i < values.size(); ++i)
      points += ' ' + coordinate(panel.x(i)) + ',' + coordinate(panel.y(values[i]));
    if (reach > 0.0) points += ' ' + coordinate(panel.x(first) + reach) + ',' + coordinate(panel.y(values[first]));
    svg_ += "<polyline fill=\"none\" " + style + " points=\"" + points + "\"/>\n";
  }
  void base_period(const Panel& panel) {
    if (chart_.base.period == 0) return;
    const double x = panel.x(chart_.base.period - 1) + 0.5 * (panel.x(1) - panel.x(0));
    line(x, panel.top, x, panel.bottom, "stroke=\"#555\" stroke-dasharray=\"3 3\"");
    words(x - 6.0, panel.bottom - 6.0, "base period", "text-anchor=\"end\"");
  }
  // A square on its corner where something is out, else a ring: shape tells what colour does.
  void mark(double x, double y, bool out) {
    if (out)
      svg_ += "<path d=\"M" + coordinate(x) + " " + coordinate(y - 7.0) + "l7 7l-7 7l-7 -7z\" fill=\"" + kVermilion +
              "\" stroke=\"#000\"/>\n";
    else
      svg_ += "<circle cx=\"" + coordinate(x) + "\" cy=\"" + coordinate(y) +
              "\" r=\"3.5\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\"/>\n";
  }
  void values();
  void ranges();
  void cusum();
  void spacings();
  void days(const Panel& panel);
  void change(const Panel& panel);
  std::string description() const;

  const ControlChart& chart_;
  const ChangePoint& change_;
  const ControlChartText& text_;
  const LineChart* line_chart_;
  std::string svg_;
  std::vector<Label> names_;
};

void Drawing::change(const Panel& panel) {
  if (change_.kind == ChangeKind::none) return;
  const double x = 0.5 * (panel.x(change_.first_after - 1) + panel.x(change_.first_after));
  line(x, panel.top, x, panel.bottom, "stroke=\"#000\" stroke-dasharray=\"1 4\" stroke-width=\"2\"");
  words(x + 6.0, panel.top + 12.0, change_.kind == ChangeKind::trend ? "trend begins" : "change");
}

void Drawing::values() {
  Panel panel{92.0, 350.0, chart_.lower, chart_.upper, chart_.values.size()};
  for (const double value : chart_.values) panel.include(value);
  panel.breathe();
  frame(panel, "Each shot (rings; diamonds are beyond a limit) and weighted mean (line), in " + text_.unit);
  level(panel, chart_.base.centre, "centre", "stroke=\"#000\"");
  level(panel, chart_.upper, "limit, one shot", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  level(panel, chart_.lower, "limit, one shot", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  const std::string dots = std::string("stroke=\"") + kBlue + "\" stroke-dasharray=\"2 3\"";
  std::vector<double> high = chart_.ewma_reach, low = chart_.ewma_reach;
  for (double& reach : high) reach = chart_.base.centre + reach;
  for (double& reach : low) reach = chart_.base.centre - reach;
  path(panel, high, dots);
  path(panel, low, dots);
  const double reach = high.back() - chart_.base.centre;
  for (const double limit : {chart_.base.centre + reach, chart_.base.centre - reach})
    if (reach > 0.0) names_.push_back({panel.y(limit), "limit, mean, " + shown(limit)});
  labels();
  path(panel, chart_.ewma, std::string("stroke=\"") + kBlue + "\" stroke-width=\"2.5\"");
  change(panel);
  base_period(panel);
  for (std::size_t i = 0; i < chart_.values.size(); ++i) mark(panel.x(i), panel.y(chart_.values[i]), chart_.beyond(i));
}

void Drawing::ranges() {
  Panel panel{392.0, 482.0, 0.0, chart_.range_upper, chart_.values.size()};
  for (const double range : chart_.moving_range) panel.include(range);
  panel.most += 0.08 * panel.most;
  frame(panel, "Difference from the shot before, in " + text_.unit);
  level(panel, chart_.range_upper, "limit", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  labels();
  if (chart_.moving_range.empty()) words(kLeft + 12.0, panel.bottom - 36.0, "the first shot has none before it");
  for (std::size_t i = 0; i < chart_.moving_range.size(); ++i) {
    const double range = chart_.moving_range[i];
    line(panel.x(i + 1), panel.bottom, panel.x(i + 1), panel.y(range), "stroke=\"#000\"");
    mark(panel.x(i + 1), panel.y(range), chart_.range_beyond(i + 1));
  }
}

void Drawing::cusum() {
  Panel panel{524.0, 634.0, -chart_.cusum_decision, chart_.cusum_decision, chart_.values.size()};
  std::vector<double> down;
  for (const double low : chart_.cusum_low) down.push_back(-low);
  for (const double high : chart_.cusum_high) panel.include(high);
  for (const double low : down) panel.include(low);
  panel.breathe();
  frame(panel, "Cumulative sums, upwards (solid) and downwards (dashed), in " + text_.unit);
  level(panel, chart_.cusum_decision, "limit", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  level(panel, -chart_.cusum_decision, "limit", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  labels();
  path(panel, chart_.cusum_high, std::string("stroke=\"") + kGreen + "\" stroke-width=\"2.5\"");
  path(panel, down, std::string("stroke=\"") + kVermilion + "\" stroke-width=\"2.5\" stroke-dasharray=\"7 3\"");
  if (!line_chart_) days(panel);
}

// Told apart by shape: low spacings are strokes downwards, middle ones rings, high ones strokes upwards.
void Drawing::spacings() {
  const double limit = line_chart_->limit, micrometres = text_.per_unit;
  // Panels are drawn in values times per_unit; these are micrometres as they are.
  Panel panel{676.0, 776.0, -limit / micrometres, limit / micrometres, chart_.values.size()};
  for (const auto& occasion : line_chart_->control)
    for (const double off : occasion) panel.include(off / micrometres);
  panel.breathe();
  frame(panel,
        "Off the calibration line of the base period, in µm: low spacing (stroke down), middle (ring), high (up)");
  for (const double end : {limit, -limit}) {
    const double y = panel.y(end / micrometres);
    line(kLeft, y, kRight, y, "stroke=\"#000\" stroke-dasharray=\"8 4\"");
    names_.push_back({y, "limit, " + report::significant(end, 2, {text_.decimal_comma})});
  }
  labels();
  for (std::size_t i = 0; i < line_chart_->control.size(); ++i)
    for (std::size_t k = 0; k < line_chart_->control[i].size(); ++k) {
      const double x = panel.x(i), y = panel.y(line_chart_->control[i][k] / micrometres);
      const double stroke = 8.0 * (1.0 - static_cast<double>(k));
      if (k != 1) line(x, y, x, y + stroke, "stroke=\"#000\" stroke-width=\"1.5\"");
      mark(x, y, std::abs(line_chart_->control[i][k]) > limit);
    }
  days(panel);
}

void Drawing::days(const Panel& panel) {
  const std::size_t step = std::max<std::size_t>(1, (text_.labels.size() + kMostLabels - 1) / kMostLabels);
  for (std::size_t i = 0; i < std::min(text_.labels.size(), chart_.values.size()); i += step) {
    line(panel.x(i), panel.bottom, panel.x(i), panel.bottom + 5.0, "stroke=\"#000\"");
    words(panel.x(i), panel.bottom + 20.0, text_.labels[i], "text-anchor=\"middle\"");
  }
}

std::string Drawing::description() const {
  std::string text = std::to_string(chart_.values.size()) + " shots, centre " + shown(chart_.base.centre) + " " +
                     text_.unit + ", standard deviation " + shown(chart_.base.sigma) + " " + text_.unit + ". ";
  const auto label = [&](std::size_t i) { return i < text_.labels.size() ? text_.labels[i] : std::to_string(i + 1); };
  const auto first = chart_.first_alert();
  text += first ? "First beyond a limit: shot " + std::to_string(*first + 1) + " of " + label(*first) + ". "
                : "No shot is beyond a limit. ";
  if (change_.kind != ChangeKind::none)
    text += "The change most likely lies before shot " + std::to_string(change_.first_after + 1) + " of " +
            label(change_.first_after) + ". ";
  return text + text_.source;
}

std::string Drawing::whole() {
  svg_ = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 " + coordinate(kWidth) +
         (line_chart_ ? " 826" : " 680") +
         "\" role=\"img\" font-family=\"system-ui, sans-serif\" font-size=\"13\" fill=\"#000\">\n<title>" +
         escaped(text_.title) + "</title>\n<desc>" + escaped(description()) + "</desc>\n" +
         "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n";
  words(kLeft, 28.0, text_.title, "font-size=\"18\" font-weight=\"600\"");
  words(kLeft, 50.0, text_.source);
  values();
  ranges();
  cusum();
  if (line_chart_) spacings();
  return svg_ + "</svg>\n";
}

}  // namespace

std::string control_chart_svg(const ControlChart& chart, const ChangePoint& change, const ControlChartText& text,
                              const LineChart* line) {
  return Drawing(chart, change, text, line).whole();
}

}  // namespace scale
