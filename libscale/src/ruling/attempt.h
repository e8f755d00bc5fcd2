// One hypothesis put to the test: measured, fitted, judged.
#pragma once

#include <optional>

#include <scale/failure.h>
#include <scale/ruling.h>

#include "ruling/period.h"
#include "ruling/working_view.h"

namespace scale {

struct Attempt {
  Ruling ruling;        // what was measured, also when it failed
  Hypothesis measured;  // the lines as measured, for a second look
  std::optional<Failure> failure;
  int parts = 1;                  // so many finer lines, too blurred to be measured, were counted in the place of each
  std::optional<Failure> hidden;  // what would be held against it if no finer lines were known
  bool distorted = false;         // refused, and distances or lines change too much over the field
  bool scattered = false;         // refused, and the lines do not lie evenly
  bool blurred = false;           // refused, and finer lines may hide between its own,
  bool block = false;             // or do, and are seen as a block
  bool spots = false;             // refused, and there are spots in rows where the lines should be
  bool barely = false;            // refused, but only for the profiles of dense lines
};

// Places of the division, from 0 to that of the last line, without a line that is used.
int places_missing(const Ruling& ruling);

// `divided`: finer lines are known to lie between those of the hypothesis, which is not held against it then but kept
// in `hidden`. `number`: how many hypotheses of this picture were put to the test, this one included. Each is another
// chance for an accident to look like a ruling, so that later ones must look better.
Attempt attempt(const WorkingView& work, const Strips& strips, const Hypothesis& hypothesis, double noise, bool divided,
                int number);

}  // namespace scale
