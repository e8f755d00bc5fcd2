// A chart as SVG: a frame with two axes, and marks in the values' own units.
//
// Meaning is never carried by colour alone: marks differ in shape, lines in their dashes. Colours are those of M. Okabe
// and K. Ito, "Color universal design" (2008), set by class in the page's style sheet. The drawing has a title and a
// description for who cannot see it. It is laid out twice, for paper and screens and for a telephone, where a shrunken
// drawing could not be read; the style sheet shows the one that fits.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "report/numbers.h"

namespace scale::report {

struct Tick {
  double value = 0.0;
  std::string label;
};

struct Axis {
  std::string label;  // with its unit
  double low = 0.0, high = 1.0;
  std::vector<Tick> ticks;
};

// Round steps (1, 2 or 5 times a power of ten), `most` ticks or fewer; the axis reaches from `low` to `high` with a
// little room, or from and to a tick when `whole`.
Axis number_axis(const std::string& label, double low, double high, int most, NumberStyle style, bool whole = false);

// Days since 1970-01-01 of "2026-02-28T09:30:00Z" or "2026-02-28"; 0 when it is neither.
double days_of(const std::string& utc);

// Values are days; ticks stand at days, months or years.
Axis time_axis(double low, double high, int most);

// Shapes tell marks apart without colour.
enum class Mark { disc, ring, cross, diamond, triangle, square };

// A mark alone, for legends within text.
std::string mark_svg(Mark mark, const std::string& css_class);

struct ChartText {
  std::string id;           // unique in its page
  std::string title;        // what it is
  std::string description;  // what it shows, in one or two sentences
};

// Where a layout puts things: its size, and its frame in it.
struct ChartFrame {
  double width = 0.0, height = 0.0, left = 0.0, right = 0.0, top = 0.0, bottom = 0.0;
  Axis x_axis, y_axis;

  double x(double value) const;
  double y(double value) const;
};

enum class Room { any, broad };

// Whether a chart keeps its height in the narrow layout, or its shape, as a map does.
enum class Keep { height, shape };

class Chart {
 public:
  Chart(ChartText text, int height, Axis x, Axis y, Keep keep = Keep::height);

  const Axis& y_axis() const { return y_; }

  void mark(Mark mark, double x, double y, const std::string& css_class);
  void upright(double x, double low, double high, const std::string& css_class);  // with caps
  void level(double y, const std::string& css_class);
  void plumb(double x, const std::string& css_class);
  void path(const std::vector<std::pair<double, double>>& points, const std::string& css_class);
  void box(double x0, double x1, double y0, double y1, const std::string& css_class);
  // Beside the point: 's' starts there, 'm' is centred, 'e' ends there. With Room::broad the narrow layout, where words
  // would lie over each other, does without.
  void words(double x, double y, const std::string& text, char anchor, double dx = 0.0, double dy = 0.0,
             Room room = Room::any);

  std::string svg() const;  // both layouts

 private:
  std::string laid_out(const ChartFrame& frame, const std::string& css_class, const std::string& id) const;

  ChartText text_;
  double height_;
  Axis x_, y_;
  Keep keep_;
  std::vector<std::function<std::string(const ChartFrame&)>> content_;
};

// A chart with what its marks mean.
struct LegendItem {
  std::string symbol;  // SVG, of mark_svg or line_svg
  std::string meaning;
};
std::string line_svg(const std::string& css_class);
std::string figure(const std::string& svg, const std::string& label, const std::string& caption,
                   const std::vector<LegendItem>& legend = {});

}  // namespace scale::report
