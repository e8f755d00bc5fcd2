// The picture of a specimen with what was measured drawn over it.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include <scale/measurement.h>

namespace gradus {

struct SpecimenPicture {
  std::string title;
  scale::ImageView image;
  const scale::SpecimenReading* reading = nullptr;
  const std::vector<scale::MeasuredBody>* bodies = nullptr;
};

// 8-bit BGR: outlines, the places of a fibre that count, object numbers as in the table, and the widths beneath.
cv::Mat draw_specimen(const SpecimenPicture& content);

}  // namespace gradus
