// Takes the lines of a ruling out of a picture.
//
// Model. Light passes one scale after the other, I = B T1 T2, so that a ruling goes when the picture is divided by its
// own T1 = 1 - a s(t), s the profile of its lines folded over all of them and a the depth of each line.
// Where T1 is small nothing of T2 is left to see, and the ground on both sides of the line takes the place.
#pragma once

#include <opencv2/core.hpp>

#include <scale/ruling.h>

namespace scale {

// `picture`: one channel, any depth that ImageView knows; the same depth comes back.
cv::Mat divided_out(const cv::Mat& picture, const Ruling& ruling);

}  // namespace scale
