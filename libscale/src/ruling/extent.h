// Where a scale lies in the picture, to tell pieces of one scale from two scales.
#pragma once

#include <opencv2/core.hpp>

#include <scale/ruling.h>

namespace scale {

struct Extent {
  double direction = 0.0, pitch = 0.0;  // radians, pixels
  double length = 0.0;                  // of its lines
  cv::Point2d first, last;              // middles of its end lines
};

Extent extent_of(const Ruling& ruling);

// Is the one the other's continuation, in one strip with it and of about its pitch? A bent scale may be followed in two
// pieces; two scales that lie so cannot be told from it.
bool follow_each_other(const Extent& a, const Extent& b);

}  // namespace scale
