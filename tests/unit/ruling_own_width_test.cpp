#include <doctest/doctest.h>
#include <scale/ruling.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <random>
#include <vector>

#include "ruling/own_width.h"
#include "support/within.h"

using namespace scale;

namespace {

constexpr double kTable = 0.01;         // a parabola between samples a quarter of a pixel apart, blur 0.8: 0.004
constexpr double kSlopeOfTable = 0.03;  // the same of differences over half a pixel: 0.02
constexpr double kPitch = 61.37;
constexpr std::array<double, 9> kWidths{20.0, 23.7, 16.2, 20.6, 19.1, 26.3, 14.8, 21.4, 18.0};

// Coverage of the pixel at x by a line about the centre of that width, its edges blurred by 0.8 pixels.
double line_at(double x, double width) {
  const auto edge = [](double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); };
  return edge((x + 0.5 * width) / 0.8) - edge((x - 0.5 * width) / 0.8);
}

}  // namespace

TEST_CASE("A line is brought to the width of the shape, and the shape to that of the line") {
  LineShape shape;
  shape.reach = shape.window = 30.0;
  for (double t = -30.0; t <= 30.3; t += LineShape::step) shape.value.push_back(line_at(t, 20.0));
  differentiate(shape);
  for (const double broader : {-6.0, -1.5, 2.5, 8.0}) {
    const LineShape own = broadened(shape, broader, 60.0);
    for (double t = -25.0; t <= 25.0; t += 0.1) {
      const double slope = (line_at(t + 0.01, 20.0 + broader) - line_at(t - 0.01, 20.0 + broader)) / 0.02;
      CHECK(within(own.at(t).value, line_at(t, 20.0 + broader), kTable));
      CHECK(within(own.at(t).slope, slope, kSlopeOfTable));
      CHECK(within(shape.at(narrowed(t, broader)).value, line_at(t, 20.0 + broader), kTable));
    }
  }
}

TEST_CASE("Lines of unlike widths do not pull the centres, and none is left out") {
  const int width = 620, height = 200;
  const double slope = 0.03;
  std::vector<std::uint8_t> samples(static_cast<std::size_t>(width * height));
  std::mt19937 random(20261127);
  std::normal_distribution<double> noise(0.0, 1.5);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      double ink = 0.0;
      for (std::size_t i = 0; i < kWidths.size(); ++i)
        ink += line_at((x - 55.0 - slope * y) / std::hypot(1.0, slope) - kPitch * static_cast<double>(i), kWidths[i]);
      samples[static_cast<std::size_t>(y * width + x)] =
          static_cast<std::uint8_t>(std::lround(210.0 - 160.0 * ink + noise(random)));
    }
  const Reading reading = find_rulings({samples.data(), width, height, width});
  REQUIRE(reading.rulings.size() == 1);
  const Ruling& ruling = reading.rulings.front();
  CHECK(ruling.graduations.size() == kWidths.size());
  CHECK(within(ruling.pitch_px, kPitch, 0.0008));
  CHECK(ruling.pitch_uncertainty_px < 0.0008);
  for (const Graduation& line : ruling.graduations) {
    CHECK(line.used);
    CHECK(std::abs(line.residual_px) < 0.01);
  }
}
