// Bent lines of any softness: fibres, scratches, hairs.
#pragma once

#include <vector>

#include "micrograph/random.h"
#include "object_map.h"
#include "plane.h"

namespace micrograph {

struct Curve {
  std::vector<Point> points;
  double half_width = 2.0;
  double softness = 1.0;   ///< standard deviation of its edges
  double amplitude = 0.5;  ///< share of the light taken; negative: adds
  double core = 0.0;       ///< lighter middle of a round fibre, share of the amplitude
};

/// Share of a thing's inside seen at a signed distance from its edge (positive inside), the edge soft as a Gaussian.
double soft_step(double distance, double softness);

/// A walk whose heading drifts; `bend` is the standard deviation of the turn per step, radians.
std::vector<Point> wander(Point start, double heading, double length, double bend, Random& random);

void draw_curve(const Curve& curve, Plane& light);

}  // namespace micrograph
