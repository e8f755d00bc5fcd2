// A picture turned so that a ruling lies along its rows or columns, and rulings found in it told in the old
// coordinates.
#pragma once

#include <opencv2/core.hpp>

#include <scale/ruling.h>

namespace scale {

// The ruling with everything moved by (dx, dy).
Ruling moved(Ruling ruling, double dx, double dy);

class Turned {
 public:
  // By the least angle that sets `direction` along a row or column; not at all when that is less than a degree.
  Turned(const cv::Mat& picture, double direction);

  const cv::Mat& picture() const { return picture_; }
  Ruling back(Ruling ruling) const;
  Ruling there(Ruling ruling) const;
  // `part` without the columns (or rows) whose middle shows what lies beyond the picture.
  cv::Rect inside(const cv::Rect& part) const;

 private:
  cv::Size size_;  // before
  cv::Mat picture_;
  double angle_ = 0.0;          // by which directions grow
  cv::Point2d before_, after_;  // the middles
};

}  // namespace scale
