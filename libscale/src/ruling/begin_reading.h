// What every search for rulings begins with.
#pragma once

#include <scale/ruling.h>

#include "image/frame.h"

namespace scale {

inline constexpr int kLeastSide = 24;  // pixels, of a picture or a part of it

struct Beginning {
  Reading reading;             // size, noise and saturation; a failure for a picture that cannot be searched
  FrameStatistics statistics;  // where there is none
};

// Throws as find_rulings does.
Beginning begin_reading(const ImageView& image, const RulingOptions& options);

}  // namespace scale
