// End lines whose ground differs on their two sides.
//
// The lines of a grid end where the crossing ones end, and the border of a round field or a label may stand beside the
// last line: the ground on one side is then another than on the other, and the common profile, which has one ground,
// settles between them, off the centre by a good part of that step over the slope of the line's edge. Lines within the
// ruling have their fellows on both sides and are not asked.
#pragma once

#include "ruling/graduations.h"

namespace scale {

// Is the ground beyond the line, by the median of its windows, higher on one side than on the other by more than chance
// and 1.5 % of the line's contrast, which moves its centre by some hundredths of its blur? `shape` is the line's own.
bool is_lopsided(const Graduations& graduations, std::size_t line, const LineShape& shape);

}  // namespace scale
