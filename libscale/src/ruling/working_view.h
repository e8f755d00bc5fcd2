// The frame the search works in: a part of the picture whose rows run across the graduations.
//
// Rulings whose axis is nearer to y than to x are read in the transposed picture, so that all stages after this one see
// directions within 45 degrees of their rows.
#pragma once

#include <opencv2/core.hpp>

#include <scale/image.h>

namespace scale {

struct WorkingView {
  cv::Mat pixels;   // what `view` shows, when it is not the picture itself
  cv::Mat smaller;  // the picture kReduction times smaller, not transposed; empty where `view` is a part of it
  ImageView view;
  cv::Point offset;  // of the part in the picture
  bool transposed = false;
  static constexpr int kReduction = 4;
  double diagonal = 0.0;  // of the whole picture, pixels

  // (x, y) of the frame in the whole picture.
  cv::Point2d in_picture(double x, double y) const;
  // A direction of the frame in the picture, and the other way: the same sum.
  double turned(double angle) const;
};

// To (-pi/2, pi/2].
double folded(double angle);

// How far two directions are from a right angle, radians.
double off_right_angle(double a, double b);

// The picture and, once it is asked for, its transpose, and a smaller copy of it.
class Pictures {
 public:
  explicit Pictures(const ImageView& image) : image_(image) {}
  const ImageView& image() const { return image_; }
  cv::Rect everything() const { return {0, 0, image_.width, image_.height}; }
  WorkingView view(const cv::Rect& region, double angle);
  // WorkingView::kReduction times smaller; empty where nothing would be left.
  const cv::Mat& smaller();

 private:
  const ImageView& image_;
  cv::Mat transpose_, smaller_;
};

}  // namespace scale
