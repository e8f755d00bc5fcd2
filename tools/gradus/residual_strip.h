// The strip beneath a picture: how far every graduation lies from an even division, against its number.
#pragma once

#include <opencv2/core.hpp>
#include <string>

#include <scale/calibration.h>

namespace gradus {

constexpr int kStripHeight = 260;

// Draws into `strip` (white, kStripHeight rows). Micrometres by `um_per_pixel`; bars are one standard uncertainty
// to either side; outliers are crosses, at the rim when they lie beyond it. Where the scale changes over the field
// the curve shows how, and the residuals scatter about it; elsewhere about zero.
// `name`: of the scale, where the picture has two.
void draw_residual_strip(cv::Mat strip, const scale::Ruling& ruling, double um_per_pixel, const std::string& name = "");

}  // namespace gradus
