// JPEG in memory, for pictures that a page shows.
#pragma once

#include <string>

#include "images/write_png.h"

namespace images {

// Baseline, colours at full resolution, so that thin lines keep theirs. `quality` is libjpeg's, 1 to 100. Throws
// std::invalid_argument for an empty view and std::runtime_error when libjpeg refuses (more than 65500 pixels a side).
std::string encode_jpeg(const ColourView& image, int quality);

}  // namespace images
