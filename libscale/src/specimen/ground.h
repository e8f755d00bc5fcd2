// The ground a specimen lies on: what the picture would show without bodies, and how rough it is.
//
// Model.   Smooth: a polynomial of fourth degree over the frame plus a remainder that changes over no less than some 6
// % of it. Method.  Means over cells; the densest values are ground; robust (Tukey) least squares of growing degree;
// the remainder
//          by normalised convolution over the cells that are ground.
//          A field stop: cells far darker than the ground that hang together with a corner of the frame lie outside the
//          field and are treated as beyond the frame.
// Limits.  Ground must be the most frequent level; it may cover less than half of the picture.
#pragma once

#include <opencv2/core.hpp>

#include <scale/image.h>

namespace scale {

class Ground {
 public:
  Ground(cv::Mat cells, double cell, cv::Mat outside = {})
      : cells_(std::move(cells)), outside_(std::move(outside)), cell_(cell) {}
  // Grey value at a point of the picture, linear between the cells.
  double at(double x, double y) const;
  // Beyond the field stop?
  bool outside(double x, double y) const;
  // The same for a picture reduced by `reduction`: CV_8U, 255 outside; empty when the field fills the frame.
  cv::Mat outside(cv::Size size, int reduction) const;
  // At every pixel of a picture reduced by `reduction`.
  cv::Mat reduced(cv::Size size, int reduction) const;

 private:
  cv::Mat cells_;    // CV_32F
  cv::Mat outside_;  // CV_8U; empty: nowhere
  double cell_;      // pixels a cell
};

Ground ground_of(const ImageView& image);

}  // namespace scale
