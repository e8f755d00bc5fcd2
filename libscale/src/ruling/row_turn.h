// How far the row that short graduations stand in is turned against the strips it was found in.
//
// Lines that are much longer than their distance tell their direction by themselves. Short ones, or ones of which a
// base line leaves only the tips, do not: half a degree off, the row they make still climbs through many times their
// length from one end of the scale to the other. So the row itself is set level, by the turn at which the edges' steps
// gather in the fewest rows. Assumes that graduations stand at right angles to their row; the lines' own direction is
// measured later, from the lines.
#pragma once

#include <optional>

#include "ruling/period.h"

namespace scale {

struct LevelRow {
  double angle = 0.0;                // radians, of the frame given, at which the row runs along the strips
  double v_low = 0.0, v_high = 0.0;  // of the row, pixels, in that direction
};

// `searched`: the strips that led to the hypothesis. Nothing when the row is too high against its length for its turn
// to matter, or when its lines do not end with it.
std::optional<LevelRow> level_row(const ImageView& image, const Strips& searched, const Hypothesis& hypothesis);

}  // namespace scale
