#include "ruling/next_rows.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "ruling/spaces.h"

namespace scale {

namespace {

constexpr double kHeight = 3.0;     // pixels, of the strips
constexpr double kReach = 1.7;      // periods beyond an end that are looked at
constexpr double kSkip = 2.5;       // blurs beyond an end that are passed over
constexpr double kAlike = 0.6;      // of the line's own amplitude
constexpr double kOpen = 0.3;       // the same, where there is ground before the next mark
constexpr double kShare = 0.7;      // of the lines that must have a next mark
constexpr double kLeastSeen = 6.0;  // lines, to judge by

// How far a line, or what goes on from it, stands out of the spaces beside it, of its amplitude.
std::optional<double> stands_out(const Graduations& g, const Strips& strips, std::size_t line, int strip) {
  const double centre = g.centre_at(line, strips.v_centre(strip)), half = std::max(1.0, 0.2 * g.shape.width);
  const auto here = mean_around(strips, strip, centre, half),
             before = mean_around(strips, strip, centre - 0.5 * g.period, half),
             after = mean_around(strips, strip, centre + 0.5 * g.period, half);
  if (!here || !before || !after) return std::nullopt;
  return (*here - 0.5 * (*before + *after)) / g.lines[line].amplitude;
}

// Nothing where the picture ends first.
std::optional<bool> next_mark(const Graduations& g, const Strips& strips, std::size_t line, bool above) {
  const double end = above ? g.lines[line].v_high : g.lines[line].v_low;
  const int first = static_cast<int>((end - strips.layout.v0) / strips.layout.height), way = above ? 1 : -1;
  const double skip = kSkip * g.shape.blur, reach = kReach * g.period;
  bool open = false;
  for (int k = first; k >= 0 && k < strips.layout.count; k += way) {
    const double away = std::abs(strips.v_centre(k) - end);
    if (away > reach) return false;
    const auto height = stands_out(g, strips, line, k);
    if (!height) return std::nullopt;
    if (away > skip && *height < kOpen) open = true;
    if (open && *height > kAlike) return true;
  }
  return std::nullopt;
}

}  // namespace

bool next_rows(const ImageView& image, const Graduations& g) {
  const AlongRange range = whole_range(g);
  const double margin = kReach * g.period + 2.0 * kHeight;
  const Strips strips = strips_over(image, g.strips.layout.angle, kHeight, {range.low - margin, range.high + margin});
  const std::size_t stride = standing_for_all(g.lines.size());
  for (const bool above : {false, true}) {
    double seen = 0.0, marks = 0.0;
    for (std::size_t l = 0; l < g.lines.size(); l += stride) {
      const auto mark = next_mark(g, strips, l, above);
      if (!mark) continue;
      seen += 1.0, marks += *mark;
    }
    if (seen < kLeastSeen || marks < kShare * seen) return false;
  }
  return true;
}

}  // namespace scale
