// Naming the set-up that an image looks like. Internal.
#pragma once

#include <scale/drift.h>

namespace scale::drift {

// "wool-20x", or "wool-10x at 1/2 of its size in pixels".
std::string likeness_words(const Likeness& likeness);

}  // namespace scale::drift
