// Where bodies are, roughly: the picture reduced, without its ground, cut at a share of the local contrast.
//
// Model.   A sample belongs to a body when it differs from the ground, in the tone of the bodies, by more than five
//          standard deviations of the smoothed ground and by a share of the largest difference nearby. What
//          is above the ground and rises from such a sample belongs to it as well, as a pale body beside a strong one.
//          What bodies enclose and shows the other tone is the middle of a rimmed body and belongs to it as well, and
//          so does what is paler than the thin lines around it but no ground, and a long even space beside a thin line.
// Limits.  One tone a picture: the one with the larger sum of squared differences. Ground enclosed by one thin even rim
// is
//          taken for a middle.
#pragma once

#include <opencv2/core.hpp>

#include <scale/specimen.h>

#include "specimen/components.h"
#include "specimen/ground.h"

namespace scale {

struct Silhouettes {
  cv::Mat mask;       // CV_8U, 0 or 255, at the reduced scale
  Components parts;   // what of it hangs together
  cv::Mat cover;      // CV_8U: what stands out in the other tone; it may lie over bodies
  cv::Mat stop;       // CV_8U: samples beside the field stop or a drawn mark; empty when there is neither
  int reduction = 1;  // pixels of the picture a sample of the mask
  bool dark = true;
  double roughness = 0.0;    // standard deviation of the smoothed ground, grey values
  double contrast = 0.0;     // typical difference of a body from the ground, grey values; 0: no body
  double other_share = 0.0;  // of the energy of differences that is of the other tone and not within bodies
};

// `marks`: CV_8U of the picture's size, what is drawn into it and belongs to no body; may be empty.
Silhouettes silhouettes_of(const ImageView& image, const Ground& ground, const cv::Mat& marks, double noise,
                           const SpecimenOptions& options);

// A position of the mask in the picture.
inline double in_picture(double position, int reduction) { return (position + 0.5) * reduction - 0.5; }

}  // namespace scale
