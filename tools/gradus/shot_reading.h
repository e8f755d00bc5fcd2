// From the picture of a scale to the shot that the engine takes.
#pragma once

#include <images/picture.h>
#include <scale/setup.h>

#include <optional>
#include <string>

#include "examine.h"

namespace gradus {

// Why the region is not inside the picture; nothing when it is, or when none was asked for.
std::optional<scale::Failure> region_failure(const std::optional<cv::Rect>& region, const images::Picture& picture);

// The rulings of a part of the picture, in coordinates of the whole.
scale::Reading read_ruling(const images::Picture& picture, const cv::Rect& region);

scale::ShotHints hints_of(const Input& input, const Examination& how, const cv::Rect& region);

// The shot without what only pictures are drawn from.
scale::Shot shot_of(const Input& input, const scale::Reading& reading, const scale::ShotHints& hints,
                    const images::Picture& picture);

// SHA-256 of the file's bytes.
std::string hash_of_file(const std::string& path);

}  // namespace gradus
