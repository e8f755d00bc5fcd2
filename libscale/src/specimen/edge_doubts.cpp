#include "specimen/edge_doubts.h"

#include <algorithm>
#include <cmath>

namespace scale {

double doubt_out_of_focus(double blur, double room, double known_blur) {
  constexpr double kInFocus = 2.0;                          // pixels, where nothing else is known (judgement)
  constexpr double kSofter = 1.2;                           // of the known blur
  constexpr double kNarrow = 4.0;                           // blurs of half the width
  constexpr double kWideShare = 0.17, kNarrowShare = 0.34;  // of the blur: those limits over sqrt(3)
  constexpr double kSharpest = 0.8;  // pixels: what lies between samples is no want of focus, as of binned pictures
  const double sharp = known_blur > 0.0 ? std::max(kSofter * known_blur, kSharpest) : kInFocus;
  const double excess = std::sqrt(std::max(0.0, blur * blur - sharp * sharp));
  return excess * (room < kNarrow * blur ? kNarrowShare : kWideShare);
}

double round_edge_limit(const MeanProfile& mean, double outside, double step, double blur) {
  constexpr double kApart = 1.28155 - 0.52440;  // 10 and 30 % points of a normal distribution
  constexpr double kRounder = 1.1;              // ratio from which on noise does not make it
  const double foot = (mean.passes(outside + 0.1 * step) - mean.passes(outside + 0.3 * step)) / kApart;
  return foot > 0.0 && blur > kRounder * foot ? std::sqrt(blur * blur - foot * foot) : 0.0;
}

}  // namespace scale
