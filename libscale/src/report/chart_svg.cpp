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
constexpr double kLineOfText = 16.0;

// Where things stand: beside the frame is room for the names of levels, or they stand beneath it.
struct Layout {
  const char* css_class;
  double width, left, right;
  std::size_t letters, title_letters;  // that fit into a line
  std::size_t most_days;               // beneath the last panel
  bool names_beside;
};
constexpr Layout kBroad{"broad", 960.0, 84.0, 790.0, 130, 90, 8, true};
constexpr Layout kNarrow{"narrow", 360.0, 62.0, 348.0, 44, 32, 3, false};

using report::coordinate;
using report::escaped;
using report::fixed;

// One of the stacked charts with the values it must have room for.
struct Panel {
  double left = 0.0, right = 0.0, top = 0.0, bottom = 0.0, least = 0.0, most = 0.0;
  std::size_t count = 1;

  double x(std::size_t i) const {
    return left + (right - left) * (static_cast<double>(i) + 0.5) / static_cast<double>(count);
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

// In lines of so many letters or fewer, broken at spaces.
std::vector<std::string> wrapped(const std::string& text, std::size_t letters) {
  std::vector<std::string> lines(1);
  std::size_t used = 0;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    const auto length = static_cast<std::size_t>(
        std::count_if(word.begin(), word.end(), [](unsigned char byte) { return (byte & 0xC0U) != 0x80U; }));
    if (used > 0 && used + 1 + length > letters) lines.emplace_back(), used = 0;
    lines.back() += (used > 0 ? " " : "") + word;
    used += length + (used > 0 ? 1 : 0);
    at = end + 1;
  }
  return lines;
}

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
  Drawing(const ControlChart& chart, const ChangePoint& change, const ControlChartText& text, const LineChart* line,
          const Layout& layout)
      : chart_(chart), change_(change), text_(text), line_chart_(line), layout_(layout) {}
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
    line(panel.left, panel.y(value), panel.right, panel.y(value), style);
    names_.push_back({panel.y(value), name + ", " + shown(value)});
  }
  // What the levels drawn so far are.
  void labels() {
    std::vector<Label> names = apart(std::exchange(names_, {}));
    if (layout_.names_beside) {
      for (const Label& name : names) words(layout_.right + 8.0, name.y + 4.0, name.text);
      return;
    }
    std::string text = "Lines from above";
    for (const Label& name : names) text += (&name == &names.front() ? ": " : "; ") + name.text;
    cursor_ += 4.0;
    paragraph(text + ".", layout_.letters);
  }
  void paragraph(const std::string& text, std::size_t letters, const std::string& style = "") {
    for (const std::string& line : wrapped(text, letters))
      words(layout_.names_beside ? layout_.left : 8.0, cursor_ += kLineOfText, line, style);
  }
  // Beneath what is drawn so far, with its title above it.
  Panel panel(const std::string& title, double height, double least, double most) {
    cursor_ += 14.0;
    paragraph(title, layout_.names_beside ? layout_.letters : layout_.letters - 4, "font-weight=\"600\"");
    const Panel made{layout_.left, layout_.right, cursor_ + 10.0,      cursor_ + 10.0 + height,
                     least,        most,          chart_.values.size()};
    cursor_ = made.bottom;
    return made;
  }
  void frame(const Panel& panel) {
    line(panel.left, panel.top, panel.left, panel.bottom, "stroke=\"#000\"");
    line(panel.left, panel.bottom, panel.right, panel.bottom, "stroke=\"#000\"");
    constexpr double kRoomOfTick = 30.0;
    const report::Axis axis =
        report::number_axis("", text_.per_unit * panel.least, text_.per_unit * panel.most,
                            static_cast<int>((panel.bottom - panel.top) / kRoomOfTick), {text_.decimal_comma});
    for (const report::Tick& tick : axis.ticks) {
      const double y = panel.y(tick.value / text_.per_unit);
      if (y < panel.top || y > panel.bottom) continue;
      line(panel.left - 5.0, y, panel.left, y, "stroke=\"#000\"");
      words(panel.left - 9.0, y + 4.0, tick.label, "text-anchor=\"end\"");
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
    constexpr double kRoomOfWords = 80.0;
    const bool room = x - panel.left > kRoomOfWords;
    words(room ? x - 6.0 : x + 6.0, panel.bottom - 6.0, room ? "base period" : "base period before",
          room ? "text-anchor=\"end\"" : "");
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
  const Layout& layout_;
  double cursor_ = 8.0;  // bottom of what is drawn
  std::string svg_;
  std::vector<Label> names_;
};

void Drawing::change(const Panel& panel) {
  if (change_.kind == ChangeKind::none) return;
  const double x = 0.5 * (panel.x(change_.first_after - 1) + panel.x(change_.first_after));
  line(x, panel.top, x, panel.bottom, "stroke=\"#000\" stroke-dasharray=\"1 4\" stroke-width=\"2\"");
  const bool room = panel.right - x > 84.0;
  words(room ? x + 6.0 : x - 6.0, panel.top + 12.0, change_.kind == ChangeKind::trend ? "trend begins" : "change",
        room ? "" : "text-anchor=\"end\"");
}

void Drawing::values() {
  Panel panel = this->panel("Each shot (rings; diamonds are beyond a limit) and weighted mean (line), in " + text_.unit,
                            258.0, chart_.lower, chart_.upper);
  for (const double value : chart_.values) panel.include(value);
  panel.breathe();
  frame(panel);
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
  Panel panel = this->panel("Difference from the shot before, in " + text_.unit, 90.0, 0.0, chart_.range_upper);
  for (const double range : chart_.moving_range) panel.include(range);
  panel.most += 0.08 * panel.most;
  frame(panel);
  level(panel, chart_.range_upper, "limit", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  labels();
  if (chart_.moving_range.empty()) words(panel.left + 12.0, panel.bottom - 36.0, "the first shot has none before it");
  for (std::size_t i = 0; i < chart_.moving_range.size(); ++i) {
    const double range = chart_.moving_range[i];
    line(panel.x(i + 1), panel.bottom, panel.x(i + 1), panel.y(range), "stroke=\"#000\"");
    mark(panel.x(i + 1), panel.y(range), chart_.range_beyond(i + 1));
  }
}

void Drawing::cusum() {
  Panel panel = this->panel("Cumulative sums, upwards (solid) and downwards (dashed), in " + text_.unit, 110.0,
                            -chart_.cusum_decision, chart_.cusum_decision);
  std::vector<double> down;
  for (const double low : chart_.cusum_low) down.push_back(-low);
  for (const double high : chart_.cusum_high) panel.include(high);
  for (const double low : down) panel.include(low);
  panel.breathe();
  frame(panel);
  level(panel, chart_.cusum_decision, "limit", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  level(panel, -chart_.cusum_decision, "limit", "stroke=\"#000\" stroke-dasharray=\"8 4\"");
  if (!line_chart_) days(panel);
  labels();
  path(panel, chart_.cusum_high, std::string("stroke=\"") + kGreen + "\" stroke-width=\"2.5\"");
  path(panel, down, std::string("stroke=\"") + kVermilion + "\" stroke-width=\"2.5\" stroke-dasharray=\"7 3\"");
}

// Told apart by shape: low spacings are strokes downwards, middle ones rings, high ones strokes upwards.
void Drawing::spacings() {
  const double limit = line_chart_->limit, micrometres = text_.per_unit;
  // Panels are drawn in values times per_unit; these are micrometres as they are.
  Panel panel = this->panel(
      "Off the calibration line of the base period, in µm: low spacing (stroke down), middle (ring), high (up)", 100.0,
      -limit / micrometres, limit / micrometres);
  for (const auto& occasion : line_chart_->control)
    for (const double off : occasion) panel.include(off / micrometres);
  panel.breathe();
  frame(panel);
  for (const double end : {limit, -limit}) {
    const double y = panel.y(end / micrometres);
    line(panel.left, y, panel.right, y, "stroke=\"#000\" stroke-dasharray=\"8 4\"");
    names_.push_back({y, "limit, " + report::significant(end, 2, {text_.decimal_comma})});
  }
  days(panel);
  labels();
  for (std::size_t i = 0; i < line_chart_->control.size(); ++i)
    for (std::size_t k = 0; k < line_chart_->control[i].size(); ++k) {
      const double x = panel.x(i), y = panel.y(line_chart_->control[i][k] / micrometres);
      const double stroke = 8.0 * (1.0 - static_cast<double>(k));
      if (k != 1) line(x, y, x, y + stroke, "stroke=\"#000\" stroke-width=\"1.5\"");
      mark(x, y, std::abs(line_chart_->control[i][k]) > limit);
    }
}

void Drawing::days(const Panel& panel) {
  const std::size_t step = std::max<std::size_t>(1, (text_.labels.size() + layout_.most_days - 1) / layout_.most_days);
  for (std::size_t i = 0; i < std::min(text_.labels.size(), chart_.values.size()); i += step) {
    line(panel.x(i), panel.bottom, panel.x(i), panel.bottom + 5.0, "stroke=\"#000\"");
    words(panel.x(i), panel.bottom + 20.0, text_.labels[i], "text-anchor=\"middle\"");
  }
  cursor_ = panel.bottom + 22.0;
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
  paragraph(text_.title, layout_.title_letters,
            layout_.names_beside ? "font-size=\"18\" font-weight=\"600\"" : "font-size=\"15\" font-weight=\"600\"");
  cursor_ += 4.0;
  paragraph(text_.source, layout_.letters);
  values();
  ranges();
  cusum();
  if (line_chart_) spacings();
  return std::string("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"") + layout_.css_class + "\" viewBox=\"0 0 " +
         coordinate(layout_.width) + " " + coordinate(cursor_ + 12.0) +
         "\" role=\"img\" font-family=\"system-ui, sans-serif\" font-size=\"13\" fill=\"#000\">\n<title>" +
         escaped(text_.title) + "</title>\n<desc>" + escaped(description()) + "</desc>\n" +
         "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n" + svg_ + "</svg>\n";
}

}  // namespace

std::string control_chart_svg(const ControlChart& chart, const ChangePoint& change, const ControlChartText& text,
                              const LineChart* line, ChartWidth width) {
  return Drawing(chart, change, text, line, width == ChartWidth::broad ? kBroad : kNarrow).whole();
}

}  // namespace scale
