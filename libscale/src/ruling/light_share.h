// How much of what changes the lines' height along the ruling is light.
//
// Light makes the lines higher and lower in a smooth way, which then shows within a line as well and moves what is read
// of its centre; where each line has a height of its own, the field through them says nothing of that. By the ratio of
// both variances (F) over what chance makes of it at 1 %. Few lines cannot tell: what stays open is a standard
// uncertainty of the share, judgement, checked by the accuracy suite.
#pragma once

#include <vector>

#include "ruling/line_shape.h"

namespace scale {

struct LightShare {
  double share = 1.0;        // of the slopes of the height, 0 to 1
  double uncertainty = 0.0;  // standard
};

// `own` are the lines' heights, `smooth` those of the field of `terms` terms along the ruling.
LightShare share_of_light(const std::vector<double>& own, const std::vector<double>& smooth, int terms);

// How far the centre of a line moves, bins, for each unit of the relative slope of its height per bin that is left out.
double shift_by_slope(const LineShape& shape);

}  // namespace scale
