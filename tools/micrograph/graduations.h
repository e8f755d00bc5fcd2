// The graduations of a line scale, one by one, before anything is drawn.
#pragma once

#include <utility>
#include <vector>

#include "micrograph/scene.h"

namespace micrograph {

struct Graduation {
  int number;
  double nominal_u;  ///< number * pitch
  double u;          ///< with its graduation error
  double width;
  double amplitude;
  double v1, v2;
  bool missing;
  std::vector<std::pair<double, double>> gaps;  ///< of a broken line, along v
};

/// `index` is the scale's place in the scene; each line draws its own random numbers from (seed, index, number), so
/// that changing the count moves nothing.
std::vector<Graduation> graduations(const Scene& scene, std::size_t index);

}  // namespace micrograph
