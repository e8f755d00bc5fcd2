#include "ruling/longer_lines.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <oneapi/tbb/parallel_for.h>

#include "ruling/joint_fit.h"
#include "ruling/tracks.h"

namespace scale {

namespace {

constexpr double kWindowPeriods = 1.5;  // half width of the window
constexpr double kClearBlurs = 2.5;     // from the neighbours' ends
constexpr double kLeastOfLine = 0.8;    // amplitude over the line's own
constexpr double kMostOfLine = 1.25;
constexpr double kMostVariance = 6.0;  // residual, over the usual one: few samples tell it
constexpr double kMostOff = 4.5;       // standard deviations of a window's shift
constexpr int kLeastStrips = 2;        // in a row, to be a line

// One line without its neighbours, on which `g` must have decided.
LineShape alone(const Graduations& g) {
  LineShape shape = g.shape;
  shape.value = g.shape.lone;
  shape.reach = g.shape.lone_reach;
  shape.window = kWindowPeriods * g.period;
  differentiate(shape);
  return shape;
}

// Strips from where all lines but the longer ones have ended, so far as a line may go on.
Strips strips_beyond(const ImageView& image, const Graduations& g, bool above) {
  const double length = usual_length(g) * g.period, clear = kClearBlurs * g.shape.blur, height = g.strips.layout.height,
               angle = g.strips.layout.angle;
  const AlongRange lines = whole_range(g), whole = along_range(image, angle);
  AlongRange range;
  if (above) {
    range.low = lines.high + clear;
    range.high = std::min(whole.high, range.low + length);
  } else {
    range.high = lines.low - clear;
    range.low = std::max(whole.low, range.high - length);
  }
  StripLayout layout = g.strips.layout;
  layout.count = static_cast<int>(std::floor((range.high - range.low) / height));
  layout.v0 = above ? range.low : range.high - layout.count * height;
  return layout.count >= kLeastStrips ? sum_strips(image, layout) : Strips{};
}

struct Sum {
  double shift = 0.0, weight = 0.0;
};

// What a line tells in these strips, from the first to where it ends.
Sum read_on(const Graduations& g, std::size_t line, const Strips& strips, bool above, const LineShape& shape,
            double usual) {
  const double height = g.lines[line].amplitude;
  Sum sum;
  int read = 0;
  for (int i = 0; i < strips.layout.count; ++i) {
    const int k = above ? i : strips.layout.count - 1 - i;
    const auto fit = fit_window(strips, k, g.centre_at(line, strips.v_centre(k)), shape, {});
    if (!fit || fit->residual_variance > kMostVariance * usual) break;
    const double ratio = fit->amplitude / height, weight = height * height * fit->shift_information;
    if (ratio < kLeastOfLine || ratio > kMostOfLine) break;
    if (std::abs(fit->shift) * std::sqrt(weight) > kMostOff * g.window_sigma) break;
    sum.shift += weight * fit->shift * ratio;
    sum.weight += weight;
    ++read;
  }
  return read >= kLeastStrips ? sum : Sum{};
}

}  // namespace

void read_longer_lines(const ImageView& image, Graduations& g) {
  const bool bent = g.bend.fan != 0.0 || g.bend.bow != 0.0 || g.bend.bow_fan != 0.0;
  if (g.period >= kDensePeriod || g.shape.lone.empty() || bent) return;
  const LineShape shape = alone(g);
  const double usual = usual_variance(g.windows);
  for (const bool above : {false, true}) {
    const Strips strips = strips_beyond(image, g, above);
    if (strips.bins == 0) continue;
    oneapi::tbb::parallel_for(std::size_t{0}, g.lines.size(), [&](std::size_t l) {
      MeasuredLine& line = g.lines[l];
      if (!(line.weight > 0.0)) return;
      const Sum beyond = read_on(g, l, strips, above, shape, usual);
      line.weight += beyond.weight;
      line.s += beyond.shift / line.weight;
    });
  }
}

}  // namespace scale
