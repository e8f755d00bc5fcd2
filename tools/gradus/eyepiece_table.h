// The table of `calibrate --reticle` for people, on standard output.
#pragma once

#include <string>
#include <vector>

#include "outcome.h"

namespace gradus {

// One row an image; beneath it the coincidences, where the zero lines lie together, and what the numbers mean.
std::string eyepiece_table(const std::vector<Outcome>& outcomes);

}  // namespace gradus
