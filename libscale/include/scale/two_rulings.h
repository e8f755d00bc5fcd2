// Two rulings in one picture: a reticle and a stage micrometer seen through an eyepiece, side by side, overlapping or
// crossed at an angle.
//
// Method. Light passes one scale after the other, so its logarithm is the sum of both, and its two-dimensional spectrum
// has a peak for each. One scale is followed from its peak over the whole picture, line by line, and divided out; the
// other one is the peak of what is left; both are read again in turn, with what the other one covers left out, and
// believed when each looks like a ruled scale and little of the picture is left. Where that does not do, the picture is
// set level along the first ruling found, and the whole and overlapping bands of it are searched for rulings as
// find_rulings does: a band that holds only the long lines of a scale shows it with a whole multiple of its pitch. Each
// scale is then measured with the other one divided out, or followed from a piece of it as before.
//
// Limits. Two rulings of one direction and width can be told apart only where their lines go out of step by a whole
// division over what is in view, |1/p1 - 1/p2| > 1/S, or where they lie side by side; else one scale is seen and the
// picture is refused. Lines of nearly one direction in the same place lie over each other at every beat; there the
// rulings are seen with lines missing.
#pragma once

#include <array>

#include <scale/ruling.h>

namespace scale {

// Which ends of a ruling are seen: lit ground in the picture where the next line would be, and no line on it.
struct EndsSeen {
  bool first = false, last = false;
};

struct TwoRulings {
  Reading reading;  // holds two rulings, or a failure and none
  std::array<EndsSeen, 2> ends{};
};

// Failures of find_rulings, and
//   one-scale       one ruling was found and no second one
//   several-scales  more than two rulings were found
//   unresolved      only a small part or the long lines of one of them could be measured
// Throws as find_rulings does.
TwoRulings find_two_rulings(const ImageView& image, const RulingOptions& options = {});

}  // namespace scale
