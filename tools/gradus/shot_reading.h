// From the picture of a scale to the shot that the engine takes.
#pragma once

#include <images/picture.h>
#include <scale/setup.h>
#include <scale/two_rulings.h>

#include "examine.h"

namespace gradus {

// The rulings of a part of the picture, in coordinates of the whole.
scale::Reading read_ruling(const images::Picture& picture, const cv::Rect& region);

// The two rulings of a part of a picture through the eyepiece, likewise.
scale::TwoRulings read_two_rulings(const images::Picture& picture, const cv::Rect& region);

scale::ShotHints hints_of(const Input& input, const Examination& how, const cv::Rect& region);

// The shot without what only pictures are drawn from.
scale::Shot shot_of(const Input& input, const scale::Reading& reading, const scale::ShotHints& hints,
                    const images::Picture& picture);

}  // namespace gradus
