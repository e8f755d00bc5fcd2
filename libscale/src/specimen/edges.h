// The edge of a body to sub-pixel level, from profiles across it.
//
// Model.   Going outwards a profile falls from what lies just inside (a plateau, or the rim) to the ground just
// outside; the
//          edge is where it passes half of that step. All profiles of one border share their shape: blur, rim, levels.
// Method.  Profiles every half pixel along the normals of a border, averaged over some pixels along it; half level by a
//          straight line between samples. The mean of all profiles, laid over each other at their edges, tells the
//          shape, and with it where the levels are to be taken; so twice. Blur s: half the distance between the 25 and
//          75 % levels, over 0.6745. Rim: ground, rim and middle as steps blurred by s, fitted to the mean profile,
//          tell by how much the half level lies outside the rim's edge.
// Limits.  A profile is not used when the ground outside is not that of the others or its step is unlike theirs.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include <scale/image.h>

#include "specimen/ground.h"

namespace scale {

// The picture without its ground, bodies upwards.
class Relief {
 public:
  Relief(const ImageView& image, const Ground& ground, bool dark) : image_(image), ground_(ground), dark_(dark) {}
  // `count` values from `from` at steps of `step`, the ground at the last of them taken off all; NaN beyond the frame.
  void profile(cv::Point2d from, cv::Point2d step, int count, float* values) const;
  double level(cv::Point2d at, double height) const { return ground_.at(at.x, at.y) + (dark_ ? -height : height); }
  const ImageView& image() const { return image_; }
  const Ground& ground() const { return ground_; }

 private:
  template <class Sample>
  void sampled(cv::Point2d from, cv::Point2d step, int count, float* values) const;

  ImageView image_;
  const Ground& ground_;
  bool dark_;
};

// Points near an edge, at even steps, with unit vectors out of the body.
struct Border {
  std::vector<cv::Point2d> at, outward;
  std::vector<double> room;  // how far the body goes on inwards, to its middle, pixels
  bool closed = false;
};

struct EdgeShape {
  double blur = 0.0;      // Gaussian standard deviation, pixels
  double step = 0.0;      // grey values
  double outside = 0.0;   // difference of the ground just outside from the smooth ground
  bool in_steps = false;  // it rises in two steps, as where two bodies lie side by side: no edge of one body
  bool round = false;     // its grey values go on rising inwards, as those of a round absorbing body
  bool rimmed = false;
  double rim_depth = 0.0;   // pixels from the edge to the strongest place of the rim
  double correction = 0.0;  // the true edge minus the half level, pixels outwards; from the rim alone
  double doubt = 0.0;       // standard uncertainty of that, pixels
};

// An edge of one body against the ground? Else this is the dark core of a body, or one that lies on or along another.
inline bool is_of_one_body(const EdgeShape& shape) {
  constexpr double kHighest = 0.35;  // of the step outside: what uneven light and a neighbour's blur may leave
  return !shape.in_steps && shape.outside < kHighest * shape.step;
}

struct EdgeSet {
  std::vector<double> offset;  // from the border's points outwards, pixels; corrections not applied
  std::vector<bool> good;
  EdgeShape shape;
  double noise = 0.0;         // standard deviation of an offset by noise, pixels
  double noise_length = 1.0;  // pixels along the border over which neighbouring offsets share their noise
  int count = 0;              // good ones
};

// `known_blur` 0: not known. `likely_blur`: how far to look, to begin with. A set without a good profile has count 0.
EdgeSet find_edges(const Relief& relief, const Border& border, double known_blur, double likely_blur = 1.5);

}  // namespace scale
