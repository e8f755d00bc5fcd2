// What was found in an image, drawn over it: graduations with division numbers, rejected lines, direction.
#pragma once

#include <opencv2/core.hpp>

#include <scale/ruling.h>

namespace gradus {

// `canvas` is the image at `magnification` display pixels an image pixel.
struct Display {
  cv::Mat canvas;
  double magnification = 1.0;

  cv::Point2d at(double x_px, double y_px) const {
    return {(x_px + 0.5) * magnification - 0.5, (y_px + 0.5) * magnification - 0.5};
  }
};

void draw_ruling(Display& display, const scale::Ruling& ruling);

// `slot` 0, 1, ...: rulings of one picture have their arrows beside each other.
void draw_direction(Display& display, const scale::Ruling& ruling, int slot);

// How far a refused reading came: the lines it saw and the directions it tried.
void draw_attempt(Display& display, const scale::Reading& reading);

}  // namespace gradus
