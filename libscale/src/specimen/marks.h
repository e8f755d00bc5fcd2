// Letters, bars and arrows that software drew into a picture: of one exact value and without the blur of a lens.
//
// Method.  Sensor noise spreads flat places over many grey values evenly; what is drawn makes one value stand out among
//          them. Patches of such a value are drawn when most of their border goes over to what is beside it within one
//          pixel, which the image of no lens does, overexposed or not.
// Limits.  Without noise in the picture nobody can tell, nor after coding with loss: none are found then.
#pragma once

#include <opencv2/core.hpp>

#include <scale/image.h>

namespace scale {

struct DrawnMarks {
  cv::Mat mask;  // CV_8U, 0 or 255, of the picture's size; empty when there are none
  int count = 0;
};

// `noise`: standard deviation of a sample, grey values.
DrawnMarks drawn_marks(const ImageView& image, double noise);

}  // namespace scale
