// The part of a picture that --region or the lab file asks for.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>

#include <scale/failure.h>

namespace gradus {

// Why the region cannot be looked at in a picture of this size, with the next step; none when it can, or when there is
// no region.
std::optional<scale::Failure> region_failure(const std::optional<cv::Rect>& region, int width, int height,
                                             const std::string& next_step = "give a --region inside it");

}  // namespace gradus
