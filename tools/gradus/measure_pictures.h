// The picture of a specimen with what was measured drawn over it.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include <scale/measurement.h>

#include "display.h"

namespace gradus {

struct SpecimenPicture {
  std::string title;
  scale::ImageView image;
  const scale::SpecimenReading* reading = nullptr;
  const std::vector<scale::MeasuredBody>* bodies = nullptr;
};

// The picture alone with outlines, the places of a fibre that count, and object numbers; sizes as of display_of.
Display draw_bodies(const scale::ImageView& image, const scale::SpecimenReading& reading, int most, int least);

// 8-bit BGR: outlines, the places of a fibre that count, object numbers as in the table, and the widths beneath.
cv::Mat draw_specimen(const SpecimenPicture& content);

}  // namespace gradus
