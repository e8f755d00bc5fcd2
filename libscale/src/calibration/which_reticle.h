// Which of two scales in one picture is the reticle.
//
// By what a person says, or by counting. Of each scale at least so many divisions are in view; of one that is seen from
// end to end the number is known. The reticle has its N divisions, the micrometer what is said of it, or any number.
// Numerals, depth, sharpness and lengths of the lines are no evidence: either scale may have more of them. Nor is it
// that one scale shows exactly N divisions where the other one runs out of the picture: a micrometer of N divisions
// beside a reticle in part looks the same. Where it cannot be told, nothing is guessed.
//
// Where lines of both lie among each other, places beyond an end may pass for lines: then lines that were measured
// count instead of places, with room, and an end is believed only when nearly all lines before it were measured. A scale
// whose lines at an end lie at the other one's distance rather than at its own may end before them: it counts for
// nothing.
#pragma once

#include <tl/expected.hpp>
#include <vector>

#include <scale/reticle_picture.h>

namespace scale::calibration {

// Its place among the rulings. Failure code which-reticle.
tl::expected<std::size_t, Failure> reticle_of(const TwoRulings& two, const ReferenceScale& scale,
                                              const ReticleInView& reticle);

// Were nearly all lines at the end measured?
bool clear_end(const std::vector<Graduation>& lines, const Graduation& end);

// Do lines of one scale lie among those of the other?
bool share_ground(const Ruling& a, const Ruling& b);

}  // namespace scale::calibration
