#include "ruling/out_of_view.h"

#include <cmath>
#include <vector>

namespace scale {

namespace {

constexpr int kLooks = 24;            // along a line
constexpr double kBorder = 3.0;       // pixels
constexpr double kMostBeyond = 0.25;  // of the places measured, beyond each end: a cubic is not followed farther

// How many of the looks along a line, so far beside the end line, lie inside the picture.
int looks_in_view(const WorkingView& work, const Graduations& g, AlongRange range, const MeasuredLine& end,
                  double beside) {
  const double c = std::cos(g.angle), s = std::sin(g.angle);
  int seen = 0;
  for (int i = 0; i < kLooks; ++i) {
    const double v = range.low + (range.high - range.low) * (i + 0.5) / kLooks - g.v_reference;
    const double x = end.x + beside * c - v * s, y = end.y + beside * s + v * c;
    seen += x > kBorder && y > kBorder && x < work.view.width - kBorder && y < work.view.height - kBorder;
  }
  return seen;
}

// How many places beyond one end have a piece of a line in view. None where the next one would be seen as a whole: the
// scale ends there.
int places_beyond(const WorkingView& work, const Graduations& g, bool after, double pitch) {
  const MeasuredLine& end = after ? g.lines.back() : g.lines.front();
  const AlongRange range = usual_range(g);
  const double step = (after ? 1.0 : -1.0) * std::abs(pitch);
  const int most = static_cast<int>(kMostBeyond * (g.lines.back().index - g.lines.front().index));
  if (looks_in_view(work, g, range, end, step) >= kLooks - 1) return 0;
  int places = 0;
  while (places < most && looks_in_view(work, g, range, end, step * (places + 1)) > 0) ++places;
  return places;
}

}  // namespace

FieldMean mean_over_field(const WorkingView& work, const Graduations& g, bool reversed, const LineFit& fit) {
  const bool whole = std::hypot(work.view.width, work.view.height) > work.diagonal - 0.5;
  if (fit.nonlinearity.empty() || !whole) return {};
  const double half = 0.5 * (g.lines.back().index - g.lines.front().index);
  const double first = -1.0 - places_beyond(work, g, reversed, fit.pitch) / half,
               last = 1.0 + places_beyond(work, g, !reversed, fit.pitch) / half;
  const auto departure = [&](double z) {
    double sum = 0.0, power = 1.0;
    for (const double c : fit.nonlinearity) sum += c * power, power *= z;
    return sum;
  };
  const double over_all = (departure(last) - departure(first)) / (last - first),
               measured = 0.5 * (departure(1.0) - departure(-1.0));
  const double correction = (over_all - measured) / half;
  return {correction, 0.5 * std::abs(correction) / std::sqrt(3.0)};
}

}  // namespace scale
