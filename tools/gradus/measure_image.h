// One image file through the engine of `measure`.
#pragma once

#include <scale/measurement.h>

#include <string>
#include <vector>

#include "batch.h"
#include "measure.h"
#include "sheet_pictures.h"

namespace gradus {

// What one image came to. The outlines are there until the picture is drawn.
struct SpecimenOutcome {
  std::string image;       // the path as given
  std::size_t factor = 0;  // place in the list of factors
  scale::LengthScale scale;
  std::vector<scale::MeasuredBody> bodies;
  std::optional<scale::Failure> reason;  // why there are none
  std::vector<scale::Warning> warnings;
  std::string sha256;  // when it is wanted for the register
  std::string picture_problem;
  std::optional<DrawnPicture> page_picture;  // when it was asked for

  bool unreadable() const { return reason && reason->code == "unreadable"; }
};

// Never throws: whatever goes wrong with this image is its reason. `for_page`: draw the picture of a page too.
SpecimenOutcome measure_image(const Input& input, const MeasureOptions& options,
                              const std::vector<FactorInUse>& factors, bool for_page = false) noexcept;

}  // namespace gradus
