// The hypotheses of one picture put to the test, one after the other.
#pragma once

#include <vector>

#include "ruling/attempt.h"
#include "ruling/period.h"
#include "ruling/working_view.h"

namespace scale {

inline constexpr int kMostIntegerPart = 20;  // a leader's period may hide so many divisions

// A ruling refused since its distances or its lines change too much over the field; a part with fewer lines than
// `lines` is no better.
struct DistortedRuling {
  double pitch = 0.0;      // pixels
  double direction = 0.0;  // radians
  std::size_t lines = 0;
};

// A ruling refused since finer lines may hide between its own.
struct BlurredRuling {
  double pitch = 0.0;  // pixels
  std::size_t lines = 0;
  bool block = false;  // these are seen, as a block
};

// Lines that were put to the test, or rows of spots that were found instead.
struct Tried {
  double pitch = 0.0;      // pixels
  double direction = 0.0;  // radians
  bool dense = false;      // many, and most of their places filled
};

// The picture under study.
struct Inquiry {
  Pictures& pictures;
  double noise = 0.0;     // grey values, of one sample
  double contrast = 0.0;  // grey values, of the picture
  double limit = 0.0;     // log10 of the false alarms that are let through
  std::vector<Tried> tried{};
  std::vector<BlurredRuling> blurred{};
  std::vector<DistortedRuling> distorted{};
  std::vector<Tried> spots{};
};

// An attempt that found nothing, with the reason that is then given.
Attempt nothing_yet();
bool found_nothing(const Attempt& attempt);

// Tries the hypotheses of one search whose pitches are not among the `tried`, finest division first.
Attempt try_hypotheses(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search,
                       std::vector<double>& tried);

// All of one search. The bands that were left out are searched when those that were not hold no ruling.
Attempt try_search(Inquiry& inquiry, const WorkingView& work, PeriodSearch& search);

// One hypothesis in the strips of `search`, which may reach beyond the part of the picture where it was found.
// `divided`: see attempt.h. What was tried and refused before speaks against it, and it is remembered for the next.
Attempt put_to_test(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search, const Hypothesis& hypothesis,
                    bool divided = false);

// With the lines measured and the direction exact, is there a finer division between them after all? If there is, it
// is the one that counts, and when it cannot be measured no factor may be given.
Attempt look_closer(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search, Attempt found);

// A scale may be finely divided in one part only: a lattice of a whole part of the pitch anywhere, if it holds up as a
// ruling of its own, is the division.
Attempt look_for_fine_part(Inquiry& inquiry, const WorkingView& work, const PeriodSearch& search, Attempt found);

}  // namespace scale
