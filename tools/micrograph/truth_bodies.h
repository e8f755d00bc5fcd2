// What the bodies of a scene measure, from the points they are drawn from.
#pragma once

#include <vector>

#include "micrograph/truth.h"

namespace micrograph {

std::vector<TruthBody> truth_bodies(const Scene& scene);

}  // namespace micrograph
