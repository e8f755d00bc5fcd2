// What every search for rulings begins with.
#pragma once

#include <scale/ruling.h>

namespace scale {

inline constexpr int kLeastSide = 24;  // pixels, of a picture or a part of it

// Size, noise and saturation; a failure for a picture that cannot be searched. Throws as find_rulings does.
Reading begin_reading(const ImageView& image, const RulingOptions& options);

}  // namespace scale
