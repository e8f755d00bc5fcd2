// A control chart as an SVG picture, from values alone. Told apart by shape, dashes and words as well as by colour
// (Okabe-Ito), so that it reads in black and white; with title and description for screen readers.
#pragma once

#include <string>
#include <vector>

#include <scale/control_chart.h>

namespace scale {

struct ControlChartText {
  std::string title;                // "wool-10x: change of the factor since record 4"
  std::vector<std::string> labels;  // a value: day, or number of the shot
  std::string unit = "%";           // of the axis
  double per_unit = 100.0;          // values times this are shown
  std::string source;               // where the limits come from, in words
  bool decimal_comma = false;
};

// For paper and screens, 960 units wide, or for a telephone, 360.
enum class ChartWidth { broad, narrow };

// A whole SVG document; it can stand in a page as it is. The text is escaped. With `line` the chart of low, middle and
// high spacings stands beneath, in micrometres.
std::string control_chart_svg(const ControlChart& chart, const ChangePoint& change, const ControlChartText& text,
                              const LineChart* line = nullptr, ChartWidth width = ChartWidth::broad);

}  // namespace scale
