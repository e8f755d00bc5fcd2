// The division behind a period: where some band repeats several times within it, the lines found are every m-th one.
//
// The picture is folded over the lattice's cells in every group of strips. Even and odd cells are folded apart and
// compared with each other, so that noise does not count as structure: a band has m parts when the correlation of even
// with odd cells is nearly as high at every multiple of 1/m of the period as at none.
#pragma once

#include "ruling/bands.h"
#include "ruling/period.h"

namespace scale {

inline constexpr double kLeastPart = 2.2;  // bins between lines: the sampling limit, and a little

// `hypothesis` with as many places as the finest band shows, or unchanged. Its direction may differ from that of the
// strips by a little; the folds follow it.
Hypothesis finest_division(const BandSums& sums, const Hypothesis& hypothesis);

}  // namespace scale
