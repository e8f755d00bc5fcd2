// An image as a screen shows it, to draw on.
#pragma once

#include <opencv2/core.hpp>

#include <scale/image.h>

namespace gradus {

// `canvas` is the image at `magnification` display pixels an image pixel; 8-bit BGR.
struct Display {
  cv::Mat canvas;
  double magnification = 1.0;

  cv::Point2d at(double x_px, double y_px) const {
    return {(x_px + 0.5) * magnification - 0.5, (y_px + 0.5) * magnification - 0.5};
  }
};

// At most `most` pixels on the longer side: large images are averaged down, small ones magnified by whole factors up to
// `least`. 8-bit values stay; deeper ones are stretched between the darkest and the brightest, as 12 bits in a file of
// 16 would be all black.
Display display_of(const scale::ImageView& image, int most, int least);

}  // namespace gradus
