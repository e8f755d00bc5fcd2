// Where a run that was broken off goes on.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "inputs.h"

namespace gradus {

struct ResumePoint {
  std::size_t first = 0;          // place in the inputs of the image to go on with; it is measured again
  std::uintmax_t keep_bytes = 0;  // of the CSV: whole rows of the images before it
  std::string rows;               // what stands there of that image
  std::string problem;            // one line; empty: it can go on
};

// Reads the CSV of the broken run. No file, or one without a row: from the beginning.
ResumePoint resume_point(const std::string& csv, const std::string& header, const InputList& inputs);

}  // namespace gradus
