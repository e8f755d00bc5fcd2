#include <doctest/doctest.h>

#include <cmath>
#include <cstdint>
#include <vector>

#include "ruling/bands.h"
#include "ruling/strips.h"
#include "support/within.h"

using namespace scale;

namespace {

// A picture whose samples are all different in both directions.
struct Ramp {
  std::vector<std::uint8_t> samples;
  ImageView view;
  Ramp(int width, int height) : samples(static_cast<std::size_t>(width * height)) {
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x)
        samples[static_cast<std::size_t>(y * width + x)] = static_cast<std::uint8_t>((x * 7 + y * 3 + x * y) % 251);
    view = {samples.data(), width, height, width, SampleType::u8, 255.0};
  }
};

Profile directly(const Strips& strips, double v_low, double v_high) {
  const auto strip_at = [&](double v) {
    return static_cast<int>(std::lround((v - strips.layout.v0) / strips.layout.height));
  };
  return strip_profile(merged(strips, strip_at(v_low), strip_at(v_high)), 0);
}

}  // namespace

TEST_CASE("Band levels cover all groups, widest first") {
  const auto levels = band_levels(32);
  CHECK(levels.front().size() == 1);
  CHECK(levels.front().front().to == 32);
  for (const auto& level : levels) {
    CHECK(level.front().from == 0);
    CHECK(level.back().to == 32);
  }
  CHECK(levels.back().size() == 32);
}

TEST_CASE("A band from running sums equals the strips summed directly") {
  const Ramp ramp(120, 90);
  for (const double angle : {0.0, 0.05, -0.4}) {
    const Strips strips = strips_over(ramp.view, angle, 5.0, along_range(ramp.view, angle));
    const BandSums sums(strips, 8);
    for (const auto& level : band_levels(sums.groups()))
      for (const Band& band : level) {
        const Profile quick = sums.profile(band), direct = directly(strips, sums.v_low(band), sums.v_high(band));
        CHECK(quick.begin == direct.begin);
        CHECK(quick.end == direct.end);
        double worst = 0.0;
        for (int b = quick.begin; b < quick.end; ++b) {
          const auto i = static_cast<std::size_t>(b);
          worst = std::max(worst, static_cast<double>(std::abs(quick.value[i] - direct.value[i])));
          worst = std::max(worst, static_cast<double>(std::abs(quick.remainder[i] - direct.remainder[i])));
        }
        CHECK(worst < 2e-3);  // grey values: float sums of some thousand samples
      }
  }
}

TEST_CASE("Strips hold every sample once, at any angle and phase count") {
  const Ramp ramp(97, 61);
  double total = 0.0;
  for (const std::uint8_t sample : ramp.samples) total += sample;
  for (const double angle : {0.0, 0.3, -0.7})
    for (const int phases : {1, 4}) {
      StripLayout layout;
      const AlongRange range = along_range(ramp.view, angle);
      layout.angle = angle;
      layout.v0 = range.low - 1.0;
      layout.height = 7.0;
      layout.count = static_cast<int>((range.high - range.low) / 7.0) + 2;
      layout.phases = phases;
      const Strips strips = sum_strips(ramp.view, layout);
      double sum = 0.0, count = 0.0;
      for (std::size_t i = 0; i < strips.mean.size(); ++i) {
        sum += static_cast<double>(strips.mean[i]) * static_cast<double>(strips.count[i]);
        count += static_cast<double>(strips.count[i]);
      }
      CHECK(within(count, 97.0 * 61.0, 1e-6));
      CHECK(within(sum / total, 1.0, 1e-5));
    }
}
