// What must not change what is read: the range and type of the samples, their sign, a transposed picture.
#include <doctest/doctest.h>

#include <scale/ruling.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <vector>

#include "micrograph/classes.h"
#include "micrograph/files.h"
#include "micrograph/render.h"
#include "support/grey_picture.h"
#include "support/within.h"

using namespace scale;

namespace {

using Grey = test_support::GreyPicture;

Grey tidy(std::uint64_t seed) {
  return test_support::grey_picture(micrograph::random_scene(*micrograph::scene_class_named("tidy"), seed));
}

double pitch_of(const ImageView& view) {
  const Reading reading = find_rulings(view);
  REQUIRE_MESSAGE(!reading.rulings.empty(), (reading.failure ? reading.failure->message : "nothing found"));
  return reading.rulings.front().pitch_px;
}

constexpr double kSame = 1e-6;  // of the pitch: float sums in another order, the search from another start

}  // namespace

TEST_CASE("A float picture from 0 to 1 is read like its 8-bit original") {
  for (const std::uint64_t seed : {1U, 2U, 3U}) {
    const Grey grey = tidy(seed);
    std::vector<float> samples(grey.samples.size());
    std::transform(grey.samples.begin(), grey.samples.end(), samples.begin(),
                   [](std::uint8_t v) { return static_cast<float>(v) / 255.0F; });
    const ImageView view{samples.data(),  grey.width, grey.height, grey.width * std::ptrdiff_t{sizeof(float)},
                         SampleType::f32, 1.0};
    const double expected = pitch_of(grey.view());
    CHECK(within(pitch_of(view), expected, 4.0 * kSame * expected));
  }
}

TEST_CASE("A negative is read like its positive") {
  for (const std::uint64_t seed : {4U, 5U, 6U}) {
    const Grey grey = tidy(seed);
    Grey negative = grey;
    for (std::uint8_t& v : negative.samples) v = static_cast<std::uint8_t>(255 - v);
    const double expected = pitch_of(grey.view());
    CHECK(within(pitch_of(negative.view()), expected, 4.0 * kSame * expected));
  }
}

TEST_CASE("A transposed picture gives the same pitch in the mirrored direction") {
  for (const std::uint64_t seed : {7U, 8U}) {
    const Grey grey = tidy(seed);
    Grey transposed{std::vector<std::uint8_t>(grey.samples.size()), grey.height, grey.width};
    for (int y = 0; y < grey.height; ++y)
      for (int x = 0; x < grey.width; ++x)
        transposed.samples[static_cast<std::size_t>(x * grey.height + y)] =
            grey.samples[static_cast<std::size_t>(y * grey.width + x)];
    const Reading a = find_rulings(grey.view()), b = find_rulings(transposed.view());
    REQUIRE(!a.rulings.empty());
    REQUIRE(!b.rulings.empty());
    const double expected = a.rulings.front().pitch_px;
    CHECK(within(b.rulings.front().pitch_px, expected, kSame * expected));
    const double turn = a.rulings.front().direction.value + b.rulings.front().direction.value;
    CHECK(within(std::abs(std::remainder(turn - 0.5 * std::numbers::pi, std::numbers::pi)), 0.0, 1e-6));
  }
}
