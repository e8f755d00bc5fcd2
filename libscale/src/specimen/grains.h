// From the silhouette of a grain to its outline.
#pragma once

#include <optional>
#include <vector>

#include <scale/specimen.h>

#include "specimen/edges.h"

namespace scale {

// A silhouette (CV_8U, of the grain alone) whose top-left sample lies at `corner` of the whole mask.
struct GrainShape {
  cv::Mat mask;
  cv::Point corner;
  double radius = 0.0;  // of the largest disc within, samples
  bool at_border = false;
  bool parted = false;  // cut from another grain
};

// None when less than half of its outline is an edge against the ground.
std::optional<Body> outline_grain(const Relief& relief, const GrainShape& shape, int reduction, double known_blur);

// The shape taken apart at its necks; itself alone when it has none.
std::vector<GrainShape> parts_of(const GrainShape& shape);

}  // namespace scale
