#include "ruling/lacking.h"

#include <array>
#include <iterator>
#include <map>
#include <vector>

#include "ruling/tracks.h"

namespace scale {

namespace {

constexpr double kLeastTail = 0.002;                        // of a neighbour, within a window
constexpr std::size_t kSides = 2;                           // of a line,
constexpr unsigned kPlacesOf[kSides] = {0b0011U, 0b1100U};  // and the places of its neighbours on each

using LinesByIndex = std::map<int, const MeasuredLine*>;

// By the lines' own ends, and by the numbers that no line has.
struct Places {
  unsigned sure = 0, unsure = 0;
};

Places places_lacking(const Graduations& g, const LineWindow& window, const LinesByIndex& lines) {
  Places places;
  const double v = g.strips.v_centre(window.strip);
  for (std::size_t k = 0; k < std::size(Lacking::kPlaces); ++k) {
    const auto neighbour = lines.find(g.lines[window.line].index + Lacking::kPlaces[k]);
    if (neighbour == lines.end())
      places.unsure |= 1U << k;
    else if (v < neighbour->second->v_low || v > neighbour->second->v_high)
      places.sure |= 1U << k;
  }
  return places;
}

}  // namespace

bool tell_lacking(Graduations& g, const std::function<Surroundings(const LineWindow&)>& around) {
  const LineShape& shape = g.shape;
  if (shape.lone.empty() ||
      LineShape::between(shape.lone, (g.period - shape.window + shape.lone_reach) / LineShape::step) < kLeastTail)
    return false;
  LinesByIndex lines;
  for (const MeasuredLine& line : g.lines) lines[line.index] = &line;
  const LineShape reader = reader_of(shape, g.period);
  const auto residual = [&](const LineWindow& window, unsigned places) {
    Surroundings with = around(window);
    with.lacking.places = places;
    const auto fit = fit_window(g.strips, window.strip, g.centre(window.line, window.strip), reader, with);
    return fit ? fit->residual_variance : 0.0;
  };
  std::vector<std::array<double, kSides>> left_more(g.lines.size());  // where those not found lack
  for (const bool decided : {false, true})
    for (LineWindow& window : g.windows) {
      const Places places = places_lacking(g, window, lines);
      if (!decided) window.lacking = places.sure;
      for (std::size_t side = 0; side < kSides; ++side) {
        const unsigned unsure = places.unsure & kPlacesOf[side];
        double& more = left_more[window.line][side];
        if (unsure == 0) continue;
        if (!decided && window.fit.pixels > 0.0)
          more += residual(window, places.sure | unsure) - residual(window, places.sure);
        if (decided && more < 0.0) window.lacking |= unsure;
      }
    }
  return true;
}

}  // namespace scale
