// Which value of a 16-bit picture is white. Internal.
//
// Cameras of 10, 12 or 14 bits write 16-bit files either right-aligned (0..4095) or left-aligned (0, 16, ..,
// 65520). The engine must know the largest value they can write, or it misses what is saturated.
#pragma once

#include <optional>

#include "images/picture.h"

namespace images {

// Sets `white` and facts.white_reason of a picture whose samples are complete. `stated` is the largest value that
// the file itself names, believed when no sample is above it. False when a float picture holds NaN
// or infinity; `white` is then not set.
[[nodiscard]] bool decide_white(Picture& picture, std::optional<unsigned> stated = std::nullopt);

}  // namespace images
