// The pictures of a folder.
#pragma once

#include <string>
#include <tl/expected.hpp>

#include "images/path_list.h"
#include "images/read_image.h"

namespace images {

// The files below `folder` whose names end in png, jpg, jpeg, tif, tiff or bmp (any case), as `folder`/name,
// in bytewise order of those paths. Hidden files and folders are skipped; folders inside are entered when
// `recursive`, links to folders never. Errors: missing, unreadable, no-images.
[[nodiscard]] tl::expected<PathList, ReadError> list_images(const std::string& folder, bool recursive);

}  // namespace images
