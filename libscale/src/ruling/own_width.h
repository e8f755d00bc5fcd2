// Lines that are broader or narrower than the shape all share.
//
// A line of its own width is the shape with its edges moved apart by d: S(t - d/2) on its right, S(t + d/2) on its
// left. With one shape for lines of unlike widths its edges are smeared over all of theirs, each side in a way of its
// own; a line whose edges lie beside the smeared ones is then pulled to one side. Only lines with a flat middle can be
// described so. Method: least squares of ground, height, centre, d and a change of blur over the line's folded samples
// (Gauss-Newton); a line that is more surely blurred otherwise than broader keeps the common shape.
#pragma once

#include <vector>

#include "ruling/graduations.h"

namespace scale {

// The shape of a line that is so much broader, bins.
LineShape broadened(const LineShape& shape, double broader, double period);

// Which lines leave so much more than others that they may be broader or narrower, or are known to be so?
std::vector<bool> may_differ_in_width(const Graduations& graduations);

// How much broader than the shape each line is, bins, told by some of its `windows`, which are in the order of lines; 0
// where it has none, it is no broader for certain, or where the shape cannot be pulled apart.
std::vector<double> broader_by(const Graduations& graduations, const std::vector<std::vector<FoldWindow>>& windows);

}  // namespace scale
