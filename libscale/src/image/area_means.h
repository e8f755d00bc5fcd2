// A picture made smaller by a whole number: each sample the mean of a square of samples.
//
// Method.  What cv::resize with INTER_AREA gives, to the same rounding. For bytes the rows of a square are added up as
//          a whole, which the compiler does with vectors; the library does so for a factor of two only and takes three
//          to four times as long for others.
#pragma once

#include <opencv2/core.hpp>

namespace scale {

// Rows and columns beyond the last whole square are left out; `factor` must not be larger than either side. Stripes of
// rows are made in parallel.
cv::Mat area_means(const cv::Mat& picture, int factor);

}  // namespace scale
