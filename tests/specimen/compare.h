// What was found of a rendered specimen, held against its truth.
#pragma once

#include <cmath>
#include <vector>

#include <micrograph/specimen.h>
#include <micrograph/truth.h>
#include <scale/specimen.h>

namespace specimen_test {

// A body that was found and the one that was drawn there.
struct Pair {
  micrograph::TruthBody truth;
  scale::Body found;
  double width_error_px = 0.0;  // fibres: mean of the local widths minus truth at the same places; grains: least Feret
  double area_error = 0.0;      // grains: share
};

struct Comparison {
  std::vector<Pair> pairs;
  std::vector<micrograph::TruthBody> missed;  // measurable ones: enough in view
  std::vector<scale::Body> doubled, foreign;  // measured again; on no body of its kind
  scale::SpecimenReading reading;
};

Comparison compare(const micrograph::Scene& scene, const scale::SpecimenOptions& options = {});

}  // namespace specimen_test
