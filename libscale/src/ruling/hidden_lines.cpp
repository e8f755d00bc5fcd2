#include "ruling/hidden_lines.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr double kLonger = 1.08;          // middle between long and short lines, of the short ones
constexpr double kLevelsKept = 0.85;      // of the lines that must be as long as their place says
constexpr double kTransition = 2.5;       // blurs beyond a line's end that are passed over
constexpr double kLookHeight = 2.5;       // blurs, of the look beyond it,
constexpr double kLeastLookHeight = 6.0;  // and at least so many pixels
constexpr double kLookWidths = 1.5;       // widths of the lines
constexpr double kBlock = 1.5;        // darkness of a block over that of the lines: two lines in place of one give 2
constexpr double kLeastInView = 0.4;  // of the bins of a look
constexpr double kClean = 0.4;        // darkness beyond the ends that nothing finer could leave

// Is every m-th line longer than the others?
bool longer_every(const Graduations& g, int m) {
  for (int phase = 0; phase < m; ++phase) {
    std::vector<double> marked, others;
    for (const MeasuredLine& line : g.lines)
      (line.index % m == phase ? marked : others).push_back(line.v_high - line.v_low);
    if (marked.size() < 2 || others.size() < 4) continue;
    const double usual = numeric::quantile(others, 0.8), limit = 0.5 * (usual + numeric::quantile(marked, 0.3));
    if (limit < kLonger * usual) continue;
    const auto above = [limit](double length) { return length > limit; };
    const auto right = std::count_if(marked.begin(), marked.end(), above) +
                       std::count_if(others.begin(), others.end(), [&](double length) { return !above(length); });
    if (static_cast<double>(right) > kLevelsKept * static_cast<double>(g.lines.size())) return true;
  }
  return false;
}

// Mean grey value of the bins [from, to) of one strip; nothing where less than `least` of them are in view.
std::optional<double> level_between(const Strips& strip, double from, double to, double least) {
  double sum = 0.0, full = 0.0;
  for (int b = 0; b < strip.bins; ++b) {
    const double s = strip.first + b, rows = static_cast<double>(strip.count[static_cast<std::size_t>(b)]);
    if (s < from || s >= to || rows < 0.5 * strip.layout.height) continue;
    sum += static_cast<double>(strip.mean[static_cast<std::size_t>(b)]);
    full += 1.0;
  }
  if (full < least * (to - from)) return std::nullopt;
  return sum / full;
}

// Darkness (toward the lines' own side) of a band of v over the span of the lines, against the same band beside them
// where that is in view, else against the ground between the lines.
struct Darkness {
  double value = 0.0;
  bool beside = false;
};

std::optional<Darkness> darkness_of(const ImageView& image, const Graduations& g, double low, double height,
                                    double ground) {
  const Strips strip = one_strip(image, g.strips.layout.angle, low, low + height);
  const double first = std::min(g.lines.front().s, g.lines.back().s),
               last = std::max(g.lines.front().s, g.lines.back().s);
  const auto level = level_between(strip, first, last, kLeastInView);
  if (!level) return std::nullopt;
  const auto left = level_between(strip, first - 3.0 * g.period, first - g.period, kLeastInView),
             right = level_between(strip, last + g.period, last + 3.0 * g.period, kLeastInView);
  if (left && right) return Darkness{*level - 0.5 * (*left + *right), true};
  if (left || right) return Darkness{*level - (left ? *left : *right), true};
  return Darkness{*level - ground, false};
}

// Of two looks beyond one end of the lines, in units of the mean darkness of the lines themselves.
struct Beyond {
  double least = 1e300, most = -1e300;
  bool beside = true;
};

std::optional<Beyond> look_beyond(const ImageView& image, const Graduations& g, bool above, double ground,
                                  double darkness) {
  std::vector<double> ends;
  for (const MeasuredLine& line : g.lines) ends.push_back(above ? line.v_high : line.v_low);
  const double end = numeric::quantile(ends, above ? 0.2 : 0.8);  // where the shortest lines stop
  const double skip = kTransition * g.shape.blur;
  const double height = std::max({kLeastLookHeight, kLookHeight * g.shape.blur, kLookWidths * g.shape.width});
  Beyond beyond;
  for (const double from : {skip, skip + height}) {  // a base line fills one of them at most
    const auto look = darkness_of(image, g, above ? end + from : end - from - height, height, ground);
    if (!look) return std::nullopt;
    beyond.least = std::min(beyond.least, look->value / darkness);
    beyond.most = std::max(beyond.most, look->value / darkness);
    beyond.beside = beyond.beside && look->beside;
  }
  return beyond;
}

}  // namespace

HiddenLines hidden_lines(const ImageView& image, const Graduations& g) {
  double area = 0.0, samples = 0.0;
  for (double t = -0.5 * g.period; t < 0.5 * g.period; t += g.shape.step, samples += 1.0)
    area += g.shape.at(std::clamp(t, -g.shape.reach, g.shape.reach)).value;
  std::vector<double> grounds, amplitudes;
  for (const LineWindow& w : g.windows)
    if (w.used) grounds.push_back(w.fit.background), amplitudes.push_back(w.fit.amplitude);
  const double amplitude = numeric::upper_median(amplitudes), darkness = amplitude * area / samples;
  const double ground = numeric::upper_median(grounds);
  const auto low = look_beyond(image, g, false, ground, darkness), high = look_beyond(image, g, true, ground, darkness);
  // A sine has no ground of its own, and which half of it is the line is then a guess.
  const bool sure = g.shape.blur < kSineBlur * g.period;
  const auto dark = [](const std::optional<Beyond>& b) { return b && b->least > kBlock; };
  const auto block = [&](const std::optional<Beyond>& b) { return dark(b) && (b->beside || sure); };
  const auto clean = [](const std::optional<Beyond>& b) { return b && b->most < kClean; };
  if (block(low) || block(high)) return HiddenLines::present;
  if (dark(low) || dark(high)) return HiddenLines::possible;
  if (longer_every(g, 5) || longer_every(g, 10)) return HiddenLines::none;
  return clean(low) && clean(high) ? HiddenLines::none : HiddenLines::possible;
}

}  // namespace scale
