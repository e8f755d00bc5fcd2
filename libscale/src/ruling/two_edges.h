// A line described by a formula: two edges, each blurred by a Gaussian of its own.
//
// Model. S(t) = ground + height Sum_k [Phi((t - k p + w/2) / left) - Phi((t - k p - w/2) / right)]: neighbours at the
// period p run into it where they are near. Fitted to the folded samples by least squares (Gauss-Newton).
//
// What for. A shape tabulated from the picture itself is free of any formula, but lines and shape are then found in
// turns: when the lines sample few fractions of a pixel, or drift through them slowly, both can give way to each other
// and the lines' places stretch. Six numbers cannot. Limits: relief, halo, pairs and clipped lines do not look like
// that; then there is no description.
#pragma once

#include <optional>

#include "ruling/line_shape.h"

namespace scale {

// Do the windows sample every fraction of a pixel?
bool phases_covered(const Strips& strips, const std::vector<FoldWindow>& windows);

// The folded shape redrawn by the formula, its slopes not yet taken, and one line of it alone; nothing when that is not
// what the line looks like. `previous` is the line's shape so far, normalised.
std::optional<LineShape> two_edges(const Fold& fold, const LineShape& folded, const LineShape& previous, double period);

}  // namespace scale
