// The picture as the ruling stages see it: rows run across the graduations (within 45 degrees), grey values
// as stored, with what the sensor did to them: noise and saturation.
#pragma once

#include <opencv2/core.hpp>

#include <scale/image.h>

namespace scale {

struct FrameStatistics {
  double noise = 0.0;            // standard deviation of one sample, grey values
  double saturated_share = 0.0;  // share of samples at 0 or at white
  double low = 0.0, high = 0.0;  // 0.5 % and 99.5 % quantiles of the samples
};

// Noise from the second mixed difference of 3 x 3 samples, which straight lines along rows or columns do not
// enter; the median makes it blind to the few places with texture. Looks at no more than about 60 000 samples.
// Source: J. Immerkaer, Fast noise variance estimation, CVIU 64 (1996), with a median for the mean.
FrameStatistics frame_statistics(const ImageView& image);

// Are all samples finite and small enough (1e9) for sums of squares in single precision?
bool within_range(const ImageView& image);

// A view as a cv::Mat header, not copied. The engine never writes through it.
cv::Mat as_mat(const ImageView& image);

// The samples of a matrix of one channel as they are, white as given; the matrix must outlive the view.
ImageView as_view(const cv::Mat& samples, double white);

}  // namespace scale
