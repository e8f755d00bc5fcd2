// The pictures of a calibration sheet, drawn from the shots themselves.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "recorded_shots.h"

namespace gradus {

// A picture for a page, still in memory.
struct DrawnPicture {
  scale::PagePicture page;                   // without its address; `missing` says why there is no picture
  std::string jpeg;                          // empty when missing
  std::vector<scale::LineProfile> profiles;  // one a ruling
};

// The JPEG of a drawn picture (8-bit BGR).
DrawnPicture picture_of(const cv::Mat& canvas);

// Where pictures of a record may be: under their path as recorded, below `folders`, or below those by the end of it.
// Only a file with the recorded SHA-256 is taken for the shot; where none was recorded, the first that is there.
struct PictureSearch {
  std::vector<std::string> folders;
};

// One shot for each direction of the picture, the first that was used.
std::vector<const RecordedShot*> shots_to_show(const std::vector<RecordedShot>& shots);

// Never throws: what goes wrong is `missing`.
DrawnPicture draw_shot(const RecordedShot& shot, const PictureSearch& search) noexcept;

}  // namespace gradus
