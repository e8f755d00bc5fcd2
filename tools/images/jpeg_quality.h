// The quality setting that a JPEG file's quantisation came from. Internal.
#pragma once

#include <optional>

#include <cstdio>

#include <jpeglib.h>

namespace images {

// The setting 1..100 of the Independent JPEG Group's scale whose luminance table (ITU-T T.81, table K.1, scaled)
// lies nearest to `table`. A writer with tables of its own has no such setting; the nearest says how coarse it is.
std::optional<int> jpeg_quality_of(const JQUANT_TBL* table);

}  // namespace images
