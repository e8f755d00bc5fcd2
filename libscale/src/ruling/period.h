// Which period, in which band, at which exact direction: hypotheses about a ruling, best first.
//
// The strips of one direction are set upright, merged into bands, and each band's edges are searched for lattices, wide
// bands first. The hypothesis with the fewest false alarms leads. The search stops at the first level of bands that
// makes the leader certain and as strong as anything in the picture; `search_deeper` goes on from there.
#pragma once

#include <limits>
#include <vector>

#include "ruling/bands.h"
#include "ruling/lattice.h"
#include "ruling/strips.h"
#include "ruling/working_view.h"

namespace scale {

struct Hypothesis {
  double angle = 0.0;                // radians, of the frame given
  double v_low = 0.0, v_high = 0.0;  // band along the graduations
  double smoothing = 0.0;            // scale of its edges
  bool rising = true;
  double step = 0.0;  // grey values: height of its edges
  Lattice lattice;    // in s
};

// Periods along s, bins, that are looked for.
struct PeriodRange {
  double low = 0.0, high = std::numeric_limits<double>::infinity();
};

struct PeriodSearch {
  Strips strips;  // upright
  BandSums sums;
  double noise = 0.0;
  PeriodRange periods;
  double strongest_step = 0.0;         // height of the strongest edges of any group, grey values
  std::size_t levels = 0;              // of the bands that were searched
  std::vector<Hypothesis> hypotheses;  // best first

  double angle() const { return strips.layout.angle; }
};

// `work`: rows within 45 degrees of the ruling's axis; `angle` good to about a degree and a half; `noise`: grey
// values, of one sample. Looks at v in `range` only.
PeriodSearch search_period(const WorkingView& work, double angle, double noise, AlongRange range,
                           PeriodRange periods = {});

// The same with nothing searched yet, at an angle that is known exactly.
PeriodSearch unsearched(const ImageView& image, double angle, double noise, AlongRange range);

// Searches the levels that are left; false when there were none.
bool search_deeper(PeriodSearch& search);

// Lattices of about the periods given, in any band, best first.
std::vector<Hypothesis> search_for(const PeriodSearch& search, const std::vector<double>& periods);

}  // namespace scale
