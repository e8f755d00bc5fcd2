#include "report/chart.h"

#include <algorithm>

#include "report/html.h"

namespace scale::report {
namespace {

constexpr double kLeft = 88.0, kRight = 14.0, kTop = 10.0, kBottom = 42.0;
constexpr double kLetter = 8.0;    // of a label, on paper, with some room
constexpr double kMarkSize = 3.2;  // half of it, units of the drawing

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

Chart::Chart(ChartText text, int width, int height, Axis x, Axis y)
    : text_(std::move(text)),
      width_(width),
      height_(height),
      x_(std::move(x)),
      y_(std::move(y)),
      left_(kLeft),
      right_(width - kRight),
      top_(kTop),
      bottom_(height - kBottom) {}

double Chart::x(double value) const { return left_ + (right_ - left_) * (value - x_.low) / (x_.high - x_.low); }
double Chart::y(double value) const { return bottom_ - (bottom_ - top_) * (value - y_.low) / (y_.high - y_.low); }

void Chart::mark(Mark mark, double x_value, double y_value, const std::string& css_class) {
  content_ += shape(mark, x(x_value), y(y_value), css_class) + "\n";
}

void Chart::upright(double at, double low, double high, const std::string& css_class) {
  const double px = x(at), top = y(high), foot = y(low);
  content_ += "<path d=\"" + segment(px, top, px, foot) + segment(px - 2.0, top, px + 2.0, top) +
              segment(px - 2.0, foot, px + 2.0, foot) + "\" class=\"" + css_class + "\"/>\n";
}

void Chart::level(double at, const std::string& css_class) {
  content_ += "<path d=\"" + segment(left_, y(at), right_, y(at)) + "\" class=\"" + css_class + "\"/>\n";
}

void Chart::plumb(double at, const std::string& css_class) {
  content_ += "<path d=\"" + segment(x(at), top_, x(at), bottom_) + "\" class=\"" + css_class + "\"/>\n";
}

void Chart::path(const std::vector<std::pair<double, double>>& points, const std::string& css_class) {
  std::string d;
  for (const auto& [px, py] : points) d += (d.empty() ? "M" : "L") + coordinate(x(px)) + " " + coordinate(y(py));
  content_ += "<path d=\"" + d + "\" class=\"" + css_class + "\"/>\n";
}

void Chart::box(double x0, double x1, double y0, double y1, const std::string& css_class) {
  content_ += "<rect" + attribute("x", x(x0)) + attribute("y", y(y1)) + attribute("width", x(x1) - x(x0)) +
              attribute("height", y(y0) - y(y1)) + " class=\"" + css_class + "\"/>\n";
}

void Chart::words(double x_value, double y_value, const std::string& text, char anchor, double dx, double dy) {
  content_ += text_at(x(x_value) + dx, y(y_value) + dy, text, anchor) + "\n";
}

std::string Chart::axes() const {
  std::string svg = "<g class=\"axis\">";
  std::string grid, frame = segment(left_, top_, left_, bottom_) + segment(left_, bottom_, right_, bottom_);
  for (const Tick& tick : x_.ticks) {
    frame += segment(x(tick.value), bottom_, x(tick.value), bottom_ + 4.0);
    const double half = 0.5 * kLetter * static_cast<double>(tick.label.size());
    svg += text_at(std::min(x(tick.value), width_ - half), bottom_ + 17.0, tick.label, 'm');
  }
  for (const Tick& tick : y_.ticks) {
    frame += segment(left_ - 4.0, y(tick.value), left_, y(tick.value));
    grid += segment(left_, y(tick.value), right_, y(tick.value));
    svg += text_at(left_ - 7.0, y(tick.value) + 4.0, tick.label, 'e');
  }
  svg += text_at(0.5 * (left_ + right_), height_ - 6.0, x_.label, 'm');
  const double middle = 0.5 * (top_ + bottom_);
  svg += text_at(13.0, middle, y_.label, 'm', " transform=\"rotate(-90 13 " + coordinate(middle) + ")\"");
  return svg + "<path d=\"" + grid + "\" class=\"hair\"/><path d=\"" + frame + "\" class=\"frame\"/></g>\n";
}

std::string Chart::svg() const {
  const std::string& id = text_.id;
  return "<svg class=\"chart\" viewBox=\"0 0 " + std::to_string(width_) + " " + std::to_string(height_) +
         "\" role=\"img\" aria-labelledby=\"" + id + "-t " + id + "-d\"><title id=\"" + id + "-t\">" +
         escaped(text_.title) + "</title><desc id=\"" + id + "-d\">" + escaped(text_.description) + "</desc>\n" +
         axes() + content_ + "</svg>\n";
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
