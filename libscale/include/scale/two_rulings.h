// Two rulings in one picture: a reticle and a stage micrometer seen through an eyepiece, side by side, overlapping or
// crossed at an angle.
//
// Method. The picture and overlapping parts of it are searched for rulings as find_rulings does; what is found is
// sorted into scales by direction, pitch and phase (a part that holds only the long lines of a scale shows the same
// scale with a whole multiple of its pitch). When there is one scale only, its lines are divided out of the picture by
// their own profile, I / (1 - a s(t)), and what is left is searched again. In the end each of two scales that share
// ground is measured again with the other one divided out.
//
// Limits. Two rulings of one direction and width can be told apart only where their lines go out of step by a whole
// division over what is in view, |1/p1 - 1/p2| > 1/S, or where they lie side by side; else one scale is seen and the
// picture is refused. Lines of nearly one direction in the same place lie over each other at every beat; there the
// rulings are seen with lines missing.
#pragma once

#include <scale/ruling.h>

namespace scale {

// `rulings` holds two or none. Failures of find_rulings, and
//   one-scale       one ruling was found and no second one
//   several-scales  more than two rulings were found
// Throws as find_rulings does.
Reading find_two_rulings(const ImageView& image, const RulingOptions& options = {});

}  // namespace scale
