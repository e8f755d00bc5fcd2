// JPEG in memory.
#pragma once

#include <cstdint>
#include <vector>

#include "micrograph/image.h"

namespace micrograph {

/// Baseline JPEG of an 8-bit picture; colour is stored at half resolution (4:2:0), as cameras do.
std::vector<std::uint8_t> encode_jpeg(const Image& image, int quality);
Image decode_jpeg(const std::vector<std::uint8_t>& bytes);

}  // namespace micrograph
