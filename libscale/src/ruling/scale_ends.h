// Which ends of a scale are seen.
#pragma once

#include <opencv2/core.hpp>

#include <scale/two_rulings.h>

namespace scale {

// `rest`: the picture without other scales.
EndsSeen ends_seen(const cv::Mat& rest, const Ruling& ruling);

// Mean grey value of a stretch of three pixels along a line, about a point; 0 beyond the picture.
double grey_at(const cv::Mat& picture, double x, double y, double direction);

}  // namespace scale
