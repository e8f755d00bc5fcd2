// Which period, in which band, at which exact direction: hypotheses about a ruling, best first.
//
// The strips of one direction are first set upright: edges of neighbouring strips are matched and the common slip
// corrects the direction, over growing distances. Then bands of one to all strips are merged (long, medium and
// short graduations, numerals and second scales live at different heights) and each band's edges are searched for
// lattices. The hypothesis with the fewest false alarms leads; where another one has a period that is an integer
// part of the leader's and stands on its own, that one is the division: graduation levels of 1 : 5 : 10 make whole
// multiples look like periods, while nothing makes a whole part look like one for many cells.
#pragma once

#include <vector>

#include "ruling/lattice.h"
#include "ruling/spectrum.h"
#include "ruling/strips.h"

namespace scale {

struct Hypothesis {
  double angle = 0.0;                // radians, of the frame given
  double v_low = 0.0, v_high = 0.0;  // band along the graduations
  double smoothing = 0.0;            // scale of its edges
  bool rising = true;
  double step = 0.0;  // grey values: height of its edges
  Lattice lattice;    // in s
};

struct PeriodSearch {
  double angle = 0.0;                  // corrected direction
  Strips strips;                       // along it
  std::vector<Hypothesis> hypotheses;  // best first
};

// `image`: rows within 45 degrees of the ruling's axis; `angle` good to about a degree and a half.
// Looks at v in `range` only.
PeriodSearch search_period(const ImageView& image, double angle, double noise, AlongRange range);

// The division behind a hypothesis. The picture is folded over the hypothesis' period in every band; where some band
// repeats m times within it, the lines found are every m-th one, and the hypothesis returned has m times as many
// places. Even and odd periods are folded apart and compared with each other, so noise does not count as structure.
Hypothesis finest_division(const Strips& strips, const Hypothesis& hypothesis);

// Strips of about so many pixels of height over a range of v, and the height that the search uses.
Strips strips_over(const ImageView& image, double angle, double height, AlongRange range);
double search_height(AlongRange range);

// The merged profile of v in [v_low, v_high).
Profile band_profile(const Strips& strips, double v_low, double v_high);

}  // namespace scale
