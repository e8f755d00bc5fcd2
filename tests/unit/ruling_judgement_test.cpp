// Scales that a reader takes in at a glance, each of which a gate against cloth, text or blur once refused.
#include <doctest/doctest.h>
#include <micrograph/classes.h>
#include <scale/ruling.h>

#include <algorithm>
#include <cmath>

#include "support/grey_picture.h"

namespace {

struct Plain {
  const char* scene_class;
  std::uint64_t seed;
  double pitch_px;
};

TEST_CASE("plain scales are read") {
  for (const Plain& plain : {
           Plain{"square_grid", 2, 47.52906},         // end lines on uneven ground
           Plain{"square_grid", 1019, 86.52155},      // wide lines crossing
           Plain{"round_field", 24, 92.93176},        // the border of the field for a line
           Plain{"paired_lines", 12, 47.37577},       // half a pair at the frame
           Plain{"paired_lines", 1004, 19.05123},     // inner edges half as strong
           Plain{"crossed", 38, 25.16248},            // every second line far longer
           Plain{"resampled", 1011, 150.2434},        // six lines after many stairs of a base line
           Plain{"poisson", 1016, 104.4063},          // a base line half as high as the graduations
           Plain{"text_and_bars", 1011, 25.11577},    // a label over the lines
           Plain{"defocus_gaussian", 1018, 14.81352}  // blurred, both ends in view
       }) {
    CAPTURE(plain.scene_class);
    CAPTURE(plain.seed);
    const auto scene = micrograph::random_scene(*micrograph::scene_class_named(plain.scene_class), plain.seed);
    const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
    REQUIRE_FALSE(reading.failure);
    const scale::Ruling& ruling = reading.rulings.front();
    CHECK(std::abs(ruling.pitch_px / plain.pitch_px - 1.0) <
          std::max(1e-4, 3.0 * ruling.pitch_uncertainty_px / ruling.pitch_px));
  }
}

TEST_CASE("coarser lines do not stand in for a division that blur hides") {
  for (const std::uint64_t seed : {1007, 1011}) {
    CAPTURE(seed);
    const auto scene = micrograph::random_scene(*micrograph::scene_class_named("too_blurred"), seed);
    const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
    REQUIRE(reading.failure);
    CHECK(reading.failure->code == "too-blurred");
  }
}

}  // namespace
