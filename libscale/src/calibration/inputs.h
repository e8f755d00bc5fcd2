// What `combine` and `propagate` both ask of their inputs.
#pragma once

#include <scale/uncertainty.h>

namespace scale::calibration {

// Throws std::invalid_argument that names the first input with a number out of range.
void require_sound(std::span<const UncertainInput> inputs);

}  // namespace scale::calibration
