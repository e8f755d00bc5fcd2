// Where a ruling may lie and which way it may run: peaks of the gradient's direction.
//
// The edges of a ruling's lines all have their gradient along the ruling's axis. Histograms of the gradient's
// direction (modulo 180 degrees, noise and shading left out) are taken at full resolution on a part of the rows and on
// area-averaged copies, over the whole picture and over tiles of it, so that a small scale in a large picture is seen
// as well. They are weighted by the gradient's length, and once more by its root, so that many faint lines stand beside
// a few strong edges. The result is a list of suspects, not a decision: it is good to about a degree.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "ruling/working_view.h"

namespace scale {

struct DirectionCandidate {
  double angle = 0.0;  // radians, in (-pi/2, pi/2]
  cv::Rect region;     // where it was seen
  double weight = 0.0;
  bool seen = true;  // false: only supposed, across one that was seen
};

// Most promising first. `noise` of a sample and `contrast` of the whole picture in grey values.
std::vector<DirectionCandidate> candidate_directions(Pictures& pictures, double noise, double contrast);

}  // namespace scale
