// Lines that run into one another: the first and the last of a scale have a neighbour on one side only, and what that
// one would add to their other flank must not move them.
#include <doctest/doctest.h>

#include <scale/ruling.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

using namespace scale;

namespace {

constexpr int kWidth = 320, kHeight = 240;

double edge(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

struct Bars {
  double pitch, width, blur;
  int count;
  double first;  // place of the first one where it crosses the top row
  double lean;   // pixels to the right per row
};

// 8 bits with a grey value of noise. The lines run over the whole height.
std::vector<std::uint8_t> painted(const Bars& bars, unsigned seed) {
  std::mt19937 engine(seed);
  std::normal_distribution<double> noise(0.0, 1.0);
  std::vector<std::uint8_t> samples;
  const double along = 1.0 / std::hypot(1.0, bars.lean), blur = std::hypot(bars.blur, std::sqrt(1.0 / 12.0));
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double t = (x - bars.first - bars.lean * y) * along;
      const int near = static_cast<int>(std::lround(t / bars.pitch));
      double light = 200.0;
      for (int n = std::max(0, near - 3); n <= std::min(bars.count - 1, near + 3); ++n)
        light -= 120.0 * (edge((t - n * bars.pitch + 0.5 * bars.width) / blur) -
                          edge((t - n * bars.pitch - 0.5 * bars.width) / blur));
      samples.push_back(static_cast<std::uint8_t>(std::clamp(std::lround(light + noise(engine)), 0L, 255L)));
    }
  return samples;
}

// Relative errors of the pitch, their mean over some exposures.
double mean_error(const Bars& bars) {
  constexpr unsigned kExposures = 6;
  double sum = 0.0;
  for (unsigned seed = 1; seed <= kExposures; ++seed) {
    const std::vector<std::uint8_t> samples = painted(bars, seed);
    const Reading reading = find_rulings({samples.data(), kWidth, kHeight, kWidth, SampleType::u8, 255.0});
    REQUIRE_MESSAGE(reading.rulings.size() == 1, (reading.failure ? reading.failure->message : "two rulings"));
    sum += reading.rulings.front().pitch_px / bars.pitch - 1.0;
  }
  return sum / kExposures;
}

}  // namespace

TEST_CASE("The end lines of a scale whose lines run into one another are not drawn to their neighbours") {
  CHECK(std::abs(mean_error({7.0, 2.5, 1.5, 20, 60.3, 0.09})) < 1.0e-5);
  CHECK(std::abs(mean_error({9.0, 3.2, 1.7, 24, 45.3, 0.09})) < 1.0e-5);
}

TEST_CASE("Lines that go on beyond the frame have neighbours there") {
  CHECK(std::abs(mean_error({7.0, 2.5, 1.5, 80, -60.3, 0.09})) < 1.0e-5);
  CHECK(std::abs(mean_error({9.0, 3.2, 1.7, 70, -60.3, 0.09})) < 1.0e-5);
}
