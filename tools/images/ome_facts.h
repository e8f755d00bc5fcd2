// What OME-XML in a TIFF's description says of the optics. Internal.
#pragma once

#include <string>

#include "images/picture.h"

namespace images {

// Fills pixel size, nominal magnification and binning of `facts` from the first image that `description` describes
// (OME schema 2016-06: PhysicalSizeX and Y are optional, above 0, in micrometres unless a unit is named). A text that
// is no OME-XML says nothing.
void read_ome(const std::string& description, FileFacts& facts);

}  // namespace images
