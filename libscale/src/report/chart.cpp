#include "report/chart.h"

#include <algorithm>
#include <cmath>

#include "report/html.h"

namespace scale::report {
namespace {

constexpr double kRight = 14.0, kTop = 10.0, kBottom = 42.0;
constexpr double kBroad = 720.0, kBroadLeft = 88.0;
constexpr double kNarrow = 340.0, kNarrowLeft = 76.0;  // what is left of a telephone's 360 pixels
constexpr double kLetter = 8.0;                        // of a label, on paper, with some room
constexpr double kMarkSize = 3.2;                      // half of it, units of the drawing

std::string attribute(const char* name, double value) {
  return std::string(" ") + name + "=\"" + coordinate(value) + "\"";
}

std::string segment(double x1, double y1, double x2, double y2) {
  return "M" + coordinate(x1) + " " + coordinate(y1) + "L" + coordinate(x2) + " " + coordinate(y2);
}

std::string closed(double x, double y, const std::vector<std::pair<double, double>>& corners) {
  std::string d;
  for (const auto& [dx, dy] : corners)
    d += (d.empty() ? "M" : "L") + coordinate(x + dx * kMarkSize) + " " + coordinate(y + dy * kMarkSize);
  return d + "Z";
}

std::string shape(Mark mark, double x, double y, const std::string& css_class) {
  const std::string of = " class=\"" + css_class + "\"/>";
  const double s = kMarkSize;
  switch (mark) {
    case Mark::disc:
    case Mark::ring:
      return "<circle" + attribute("cx", x) + attribute("cy", y) + attribute("r", s) + of;
    case Mark::cross:
      return "<path d=\"" + segment(x - s, y - s, x + s, y + s) + segment(x - s, y + s, x + s, y - s) + "\"" + of;
    case Mark::diamond:
      return "<path d=\"" + closed(x, y, {{0.0, -1.35}, {1.35, 0.0}, {0.0, 1.35}, {-1.35, 0.0}}) + "\"" + of;
    case Mark::triangle:
      return "<path d=\"" + closed(x, y, {{0.0, -1.3}, {1.3, 1.0}, {-1.3, 1.0}}) + "\"" + of;
    case Mark::square:
      return "<path d=\"" + closed(x, y, {{-1.0, -1.0}, {1.0, -1.0}, {1.0, 1.0}, {-1.0, 1.0}}) + "\"" + of;
  }
  return "";
}

std::string text_at(double x, double y, const std::string& text, char anchor, const std::string& more = "") {
  const std::string side = anchor == 'm' ? " text-anchor=\"middle\"" : anchor == 'e' ? " text-anchor=\"end\"" : "";
  return "<text" + attribute("x", x) + attribute("y", y) + side + more + ">" + escaped(text) + "</text>";
}

}  // namespace

std::string mark_svg(Mark mark, const std::string& css_class) {
  return "<svg class=\"key\" viewBox=\"0 0 12 12\" aria-hidden=\"true\">" + shape(mark, 6.0, 6.0, css_class) + "</svg>";
}

std::string line_svg(const std::string& css_class) {
  return "<svg class=\"key long\" viewBox=\"0 0 26 12\" aria-hidden=\"true\"><path d=\"M1 6L25 6\" class=\"" +
         css_class + "\"/></svg>";
}

double ChartFrame::x(double value) const {
  return left + (right - left) * (value - x_axis.low) / (x_axis.high - x_axis.low);
}
double ChartFrame::y(double value) const {
  return bottom - (bottom - top) * (value - y_axis.low) / (y_axis.high - y_axis.low);
}

Chart::Chart(ChartText text, int height, Axis x, Axis y, Keep keep)
    : text_(std::move(text)), height_(height), x_(std::move(x)), y_(std::move(y)), keep_(keep) {}

void Chart::mark(Mark mark, double x, double y, const std::string& css_class) {
  content_.emplace_back([=](const ChartFrame& f) { return shape(mark, f.x(x), f.y(y), css_class); });
}

void Chart::upright(double at, double low, double high, const std::string& css_class) {
  content_.emplace_back([=](const ChartFrame& f) {
    const double px = f.x(at), top = f.y(high), foot = f.y(low);
    return "<path d=\"" + segment(px, top, px, foot) + segment(px - 2.0, top, px + 2.0, top) +
           segment(px - 2.0, foot, px + 2.0, foot) + "\" class=\"" + css_class + "\"/>";
  });
}

void Chart::level(double at, const std::string& css_class) {
  content_.emplace_back([=](const ChartFrame& f) {
    return "<path d=\"" + segment(f.left, f.y(at), f.right, f.y(at)) + "\" class=\"" + css_class + "\"/>";
  });
}

void Chart::plumb(double at, const std::string& css_class) {
  content_.emplace_back([=](const ChartFrame& f) {
    return "<path d=\"" + segment(f.x(at), f.top, f.x(at), f.bottom) + "\" class=\"" + css_class + "\"/>";
  });
}

void Chart::path(const std::vector<std::pair<double, double>>& points, const std::string& css_class) {
  content_.emplace_back([=](const ChartFrame& f) {
    std::string d;
    for (const auto& [x, y] : points) d += (d.empty() ? "M" : "L") + coordinate(f.x(x)) + " " + coordinate(f.y(y));
    return "<path d=\"" + d + "\" class=\"" + css_class + "\"/>";
  });
}

void Chart::box(double x0, double x1, double y0, double y1, const std::string& css_class) {
  content_.emplace_back([=](const ChartFrame& f) {
    return "<rect" + attribute("x", f.x(x0)) + attribute("y", f.y(y1)) + attribute("width", f.x(x1) - f.x(x0)) +
           attribute("height", f.y(y0) - f.y(y1)) + " class=\"" + css_class + "\"/>";
  });
}

void Chart::words(double x, double y, const std::string& text, char anchor, double dx, double dy, Room room) {
  content_.emplace_back([=](const ChartFrame& f) {
    if (room == Room::broad && f.width < kBroad) return std::string();
    // What would reach over an end of the drawing is moved in.
    const double wide = kLetter * static_cast<double>(text.size());
    const double least = anchor == 'm' ? f.left + 0.5 * wide : 0.0, most = anchor == 's' ? f.width - wide : f.width;
    return text_at(std::clamp(f.x(x) + dx, least, std::max(least, most)), f.y(y) + dy, text, anchor);
  });
}

namespace {

// Every so many labels beneath the axis stand, so that none touches the next.
std::size_t label_step(const ChartFrame& f) {
  const std::vector<Tick>& ticks = f.x_axis.ticks;
  if (ticks.size() < 2) return 1;
  std::size_t longest = 0;
  for (const Tick& tick : ticks) longest = std::max(longest, tick.label.size());
  const double apart = std::abs(f.x(ticks[1].value) - f.x(ticks[0].value));
  return static_cast<std::size_t>(std::ceil(kLetter * static_cast<double>(longest) / std::max(apart, 1.0)));
}

std::string axes_of(const ChartFrame& f) {
  std::string svg = "<g class=\"axis\">";
  std::string grid, lines = segment(f.left, f.top, f.left, f.bottom) + segment(f.left, f.bottom, f.right, f.bottom);
  const std::size_t step = label_step(f);
  for (std::size_t i = 0; i < f.x_axis.ticks.size(); ++i) {
    const Tick& tick = f.x_axis.ticks[i];
    lines += segment(f.x(tick.value), f.bottom, f.x(tick.value), f.bottom + 4.0);
    if (i % step != 0) continue;
    const double half = 0.5 * kLetter * static_cast<double>(tick.label.size());
    svg += text_at(std::min(f.x(tick.value), f.width - half), f.bottom + 17.0, tick.label, 'm');
  }
  for (const Tick& tick : f.y_axis.ticks) {
    lines += segment(f.left - 4.0, f.y(tick.value), f.left, f.y(tick.value));
    grid += segment(f.left, f.y(tick.value), f.right, f.y(tick.value));
    svg += text_at(f.left - 7.0, f.y(tick.value) + 4.0, tick.label, 'e');
  }
  svg += text_at(0.5 * (f.left + f.right), f.height - 6.0, f.x_axis.label, 'm');
  const double middle = 0.5 * (f.top + f.bottom);
  svg += text_at(13.0, middle, f.y_axis.label, 'm', " transform=\"rotate(-90 13 " + coordinate(middle) + ")\"");
  return svg + "<path d=\"" + grid + "\" class=\"hair\"/><path d=\"" + lines + "\" class=\"frame\"/></g>\n";
}

}  // namespace

std::string Chart::laid_out(const ChartFrame& frame, const std::string& css_class, const std::string& id) const {
  std::string svg = "<svg class=\"chart " + css_class + "\" viewBox=\"0 0 " + coordinate(frame.width) + " " +
                    coordinate(frame.height) + "\" role=\"img\" aria-labelledby=\"" + id + "-t " + id +
                    "-d\"><title id=\"" + id + "-t\">" + escaped(text_.title) + "</title><desc id=\"" + id + "-d\">" +
                    escaped(text_.description) + "</desc>\n" + axes_of(frame);
  for (const auto& draw : content_) svg += draw(frame) + "\n";
  return svg + "</svg>\n";
}

std::string Chart::svg() const {
  const ChartFrame broad{kBroad, height_, kBroadLeft, kBroad - kRight, kTop, height_ - kBottom, x_, y_};
  const double shrunk = (kNarrow - kNarrowLeft - kRight) / (broad.right - broad.left);
  const double height =
      keep_ == Keep::height ? height_ : std::round(shrunk * (broad.bottom - broad.top)) + kTop + kBottom;
  const ChartFrame narrow{kNarrow, height, kNarrowLeft, kNarrow - kRight, kTop, height - kBottom, x_, y_};
  return laid_out(broad, "broad", text_.id) + laid_out(narrow, "narrow", text_.id + "-n");
}

std::string figure(const std::string& svg, const std::string& label, const std::string& caption,
                   const std::vector<LegendItem>& legend) {
  std::string html = "<figure><div class=\"wide\" role=\"group\" tabindex=\"0\" aria-label=\"" + escaped(label) +
                     "\">" + svg + "</div>";
  html += "<figcaption>";
  if (!legend.empty()) {
    html += "<span class=\"legend\">";
    for (const LegendItem& item : legend) html += "<span>" + item.symbol + " " + item.meaning + "</span> ";
    html += "</span>";
  }
  return html + caption + "</figcaption></figure>\n";
}

}  // namespace scale::report
