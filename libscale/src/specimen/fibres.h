// From the middle line of a fibre to its edges and local widths.
#pragma once

#include <optional>

#include "specimen/edges.h"
#include "specimen/strands.h"

#include <scale/specimen.h>

namespace scale {

// None when no ground is seen on both sides over a length of half its width, or ten pixels at least. Corrections for
// rims are applied, that for narrow fibres is not: its blur is known best when all bodies of the picture were seen.
std::optional<Body> outline_fibre(const Relief& relief, const Strand& strand, int reduction, double known_blur);

// Takes the correction for a fibre that is not wide against the blur off its edges. False: it is not resolved.
bool correct_narrow_fibre(Body& body, double known_blur);

double mean_width(const Body& fibre);

}  // namespace scale
