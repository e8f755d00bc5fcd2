// Two rulings in one picture: a reticle and a stage micrometer seen through an eyepiece, side by side, overlapping or
// crossed at an angle.
//
// Method. The picture is set level along the first ruling found, and the whole and overlapping bands of it are searched
// for rulings as find_rulings does. What is found is sorted into scales: a band that holds only the long lines of a
// scale shows the same scale with a whole multiple of its pitch. When there is one scale only, its lines are divided
// out of the picture by their own profile, I / (1 - a s(t)), and what is left is searched. In the end each scale is
// measured with the other one divided out. Where that does not do, because lines of both lie among each other, one
// scale is followed as a whole from a piece of it, its lines divided out, the other one found in what is left, and both
// are read again in turn, line by line, with what the other one covers left out.
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
