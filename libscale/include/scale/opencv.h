// The one place where OpenCV meets the public interface: a view of a cv::Mat, without copying.
#pragma once

#include <opencv2/core.hpp>
#include <stdexcept>

#include <scale/image.h>

namespace scale {

// `mat` must outlive the view. One channel of CV_8U, CV_16U or CV_32F; anything else throws
// std::invalid_argument. `white` as in ImageView; 0 picks the type's own maximum (1.0 for float).
inline ImageView view_of(const cv::Mat& mat, double white = 0.0) {
  ImageView view;
  view.data = mat.data;
  view.width = mat.cols;
  view.height = mat.rows;
  view.row_bytes = static_cast<std::ptrdiff_t>(mat.step);
  switch (mat.type()) {
    case CV_8UC1:
      view.type = SampleType::u8;
      view.white = 255.0;
      break;
    case CV_16UC1:
      view.type = SampleType::u16;
      view.white = 65535.0;
      break;
    case CV_32FC1:
      view.type = SampleType::f32;
      view.white = 1.0;
      break;
    default:
      throw std::invalid_argument("view_of: one channel of 8-bit, 16-bit or float samples is needed");
  }
  if (white > 0.0) view.white = white;
  return view;
}

}  // namespace scale
