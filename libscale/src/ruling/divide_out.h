// Takes the lines of a ruling out of a picture.
//
// Model. Light passes one scale after the other, I = B T1 T2, so that a ruling goes when the picture is divided by its
// own T1 = 1 - a s(t), s the profile of its lines folded over all of them and a the depth of each line.
// Where T1 is small nothing of T2 is left to see, and the ground on both sides of the line takes the place.
#pragma once

#include <opencv2/core.hpp>

#include <scale/ruling.h>

namespace scale {

// Below this share of the ground's light the noise would be magnified more than tenfold in variance.
inline constexpr double kDarkest = 0.3;
inline constexpr double kBeyondEnds = 2.0;  // pixels, of the lines' ends, which are blurred as their sides are

// `picture`: one channel, any depth that ImageView knows; the same depth comes back.
cv::Mat divided_out(const cv::Mat& picture, const Ruling& ruling);

}  // namespace scale
