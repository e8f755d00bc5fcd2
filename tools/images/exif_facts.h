// What an Exif block says of the camera. Internal.
#pragma once

#include <span>

#include "images/picture.h"

namespace images {

// Fills orientation, make, model, resolution, time and the sizes of original and thumbnail of `facts`. `block` is a
// TIFF structure, as in PNG's eXIf chunk and, after the six bytes "Exif\0\0", in JPEG's APP1 marker. A damaged block
// says nothing.
void read_exif(std::span<const unsigned char> block, FileFacts& facts);

}  // namespace images
