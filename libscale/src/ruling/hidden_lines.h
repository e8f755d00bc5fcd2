// Could finer lines hide in the blur between those that were found?
//
// Where the short graduations of a scale are blurred beyond recognition, only the longer ones still show, and only
// where they reach beyond the short ones: they would pass for a division. Two things tell. The unresolved short lines
// leave a uniform block, as dark as their number makes it, that begins where the lines seen end (broad_band.h looks for
// what lies across them). And scales mark every fifth or tenth division, not every twenty-fifth or fiftieth: where
// every tenth line is longer than the other fifth ones, these are the finest.
#pragma once

#include <scale/image.h>

#include "ruling/graduations.h"

namespace scale {

// Of the period: blur from which on a profile is nearly a sine (which has 0.127), all else lost.
inline constexpr double kSineBlur = 0.1;

struct HiddenLines {
  enum class Verdict {
    none,      // both ends of the lines are in view and clean, or the marks of a fifth or tenth are seen
    possible,  // neither seen nor excluded
    present    // a block of unresolved lines is seen
  };
  Verdict verdict = Verdict::none;
  AlongRange block;  // where it was looked at
  double ink = 0.0;  // its darkness over the mean darkness of the lines seen
};

HiddenLines hidden_lines(const ImageView& image, const Graduations& graduations);

}  // namespace scale
