// Do the lines of a comb stick out of a block of finer ones that are blurred into each other?
#pragma once

#include "ruling/comb.h"

namespace scale {

// Where between the lines, just beyond their ends, it is darker than between the lines themselves, finer lines stand
// that cannot be told apart, and the comb is their fifth or tenth ones only. `light` without other scales.
bool sticks_out_of_block(const Light& light, const Comb& comb);

}  // namespace scale
