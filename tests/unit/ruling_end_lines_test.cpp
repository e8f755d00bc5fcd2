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
  double first;              // place of the first one where it crosses the top row
  double lean;               // pixels to the right per row
  int short_rows = kHeight;  // but every fifth line, which runs over the whole height
};

// 8 bits with a grey value of noise.
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
      for (int n = std::max(0, near - 3); n <= std::min(bars.count - 1, near + 3); ++n) {
        if (n % 5 != 0 && y >= bars.short_rows) continue;
        light -= 120.0 * (edge((t - n * bars.pitch + 0.5 * bars.width) / blur) -
                          edge((t - n * bars.pitch - 0.5 * bars.width) / blur));
      }
      samples.push_back(static_cast<std::uint8_t>(std::clamp(std::lround(light + noise(engine)), 0L, 255L)));
    }
  return samples;
}

Ruling read(const Bars& bars, unsigned seed) {
  const std::vector<std::uint8_t> samples = painted(bars, seed);
  const Reading reading = find_rulings({samples.data(), kWidth, kHeight, kWidth, SampleType::u8, 255.0});
  REQUIRE_MESSAGE(reading.rulings.size() == 1, (reading.failure ? reading.failure->message : "two rulings"));
  return reading.rulings.front();
}

// Relative errors of the pitch, their mean over some exposures.
double mean_error(const Bars& bars) {
  constexpr unsigned kExposures = 6;
  double sum = 0.0;
  for (unsigned seed = 1; seed <= kExposures; ++seed) sum += read(bars, seed).pitch_px / bars.pitch - 1.0;
  return sum / kExposures;
}

// Mean square of the errors of the places, about their own straight line and in their claimed uncertainties, of every
// fifth line; and how much better than the others they claim to be.
struct Fifths {
  double square = 0.0, better = 0.0;
};

Fifths fifths_of(const Bars& bars, unsigned seed) {
  const Ruling ruling = read(bars, seed);
  Fifths fifths;
  double n = 0.0, fine = 0.0, coarse = 0.0, others = 0.0;
  for (const Graduation& line : ruling.graduations) {
    if (line.index % 5 != 0) {
      fine += line.uncertainty_px, others += 1.0;
      continue;
    }
    coarse += line.uncertainty_px, n += 1.0;
    fifths.square += std::pow(line.residual_px / line.uncertainty_px, 2);
  }
  fifths.square /= n;
  fifths.better = fine / others / (coarse / n);
  return fifths;
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

TEST_CASE("The longer lines of a dense scale are read beyond their neighbours, and only there") {
  const Bars bars{7.0, 2.5, 1.5, 40, 20.3, 0.02, 100};
  double square = 0.0;
  for (unsigned seed = 1; seed <= 8; ++seed) {
    const Fifths fifths = fifths_of(bars, seed);
    CHECK(fifths.better > 1.3);  // of 240 rows to 100 at most sqrt(2.4) = 1.55
    CHECK(fifths.better < 1.6);
    square += fifths.square / 8.0;
  }
  CHECK(square < 1.6);
  CHECK(square > 0.5);
  CHECK(std::abs(mean_error(bars)) < 1.0e-5);
}
