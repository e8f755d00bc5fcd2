#include <doctest/doctest.h>

#include <cmath>
#include <cstdint>
#include <vector>

#include <scale/units.h>

#include "ruling/row_turn.h"
#include "ruling/two_edges.h"
#include "support/within.h"

using namespace scale;

namespace {

double edge(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

// A line 8 bins wide every 30, its edges blurred by 1.2 and 1.7 bins; `flank` adds a bright one beside it.
double line_at(double t, double flank = 0.0) {
  t -= 30.0 * std::round(t / 30.0);
  return edge((t + 4.0) / 1.2) - edge((t - 4.0) / 1.7) - flank * std::exp(-0.5 * std::pow((t - 7.0) / 1.2, 2));
}

Fold folded(double flank, double from, double to) {
  Fold fold;
  fold.reach = 15.0;
  for (int bin = -15; bin <= 15; ++bin)
    for (double phase = from; phase < to; phase += 1.0 / 16.0)
      if (std::abs(bin + phase) < 15.3) fold.cells.push_back({bin + phase, line_at(bin + phase, flank), 1.0});
  return fold;
}

LineShape first_guess() {
  LineShape shape;
  shape.width = 7.0;
  shape.blur = 1.0;
  return shape;
}

}  // namespace

TEST_CASE("Two edges are found again from a third of the phases of a pixel") {
  const Fold fold = folded(0.0, 0.1, 0.4);
  const auto shape = two_edges(fold, smoothed(fold, 0.3), first_guess(), 30.0);
  REQUIRE(shape);
  for (double t = -14.0; t <= 14.0; t += 0.25) CHECK(within(shape->at(t).value, line_at(t), 0.001));
}

TEST_CASE("A line with a bright flank is not forced into two edges") {
  const Fold fold = folded(0.3, 0.0, 1.0);
  CHECK(!two_edges(fold, smoothed(fold, 0.3), first_guess(), 30.0));
}

TEST_CASE("Lines that stand along the pixels cover the phases only when they are many") {
  Strips strips;
  strips.bins = 400;
  for (auto* values : {&strips.mean, &strips.remainder}) values->assign(400, 0.0F);
  strips.count.assign(400, 10.0F);
  const auto covered = [&](double pitch, int lines) {
    std::vector<FoldWindow> windows;
    for (int i = 0; i < lines; ++i) windows.push_back({0, 20.0 + pitch * i, 0.0, 1.0, {}});
    return phases_covered(strips, windows);
  };
  CHECK(!covered(47.1, 7));
  CHECK(!covered(10.0, 30));
  CHECK(covered(10.37, 30));
}

TEST_CASE("A row of short lines is set level, a base line beside them or not") {
  // 41 lines of 10 pixels in a row that climbs by 0.5 degrees.
  const int width = 900, height = 300;
  const double turn = 0.5 * kPi / 180.0;
  for (const bool base_line : {false, true}) {
    std::vector<std::uint8_t> samples(static_cast<std::size_t>(width * height), 200);
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        const double along = x * std::cos(turn) + y * std::sin(turn), v = y * std::cos(turn) - x * std::sin(turn);
        const double place = (along - 20.0) / 20.0, off = std::abs(place - std::round(place)) * 20.0;
        const bool line = off < 2.0 && place > -0.4 && place < 40.4 && v >= 140.0 && v < 150.0;
        if (line || (base_line && v >= 137.0 && v < 140.0)) samples[static_cast<std::size_t>(y * width + x)] = 60;
      }
    const ImageView image{samples.data(), width, height, width, SampleType::u8, 255.0};
    Hypothesis hypothesis;
    hypothesis.v_low = 130.0;
    hypothesis.v_high = 160.0;
    for (int i = 0; i <= 40; ++i) {
      hypothesis.lattice.index.push_back(i);
      hypothesis.lattice.position.push_back((18.0 + 20.0 * i) * std::cos(turn));
    }
    hypothesis.lattice.pitch = 20.0;
    const auto row = level_row(image, strips_over(image, 0.0, 8.0, along_range(image, 0.0)), hypothesis);
    REQUIRE(row);
    CHECK(within(row->angle * 180.0 / kPi, 0.5, 0.1));
    CHECK(within(row->v_low, 140.0, 3.0));
    CHECK(within(row->v_high, 150.0, 3.0));
  }
}

TEST_CASE("Long lines are left to tell their direction themselves") {
  const int width = 400, height = 300;
  std::vector<std::uint8_t> samples(static_cast<std::size_t>(width * height), 200);
  for (int y = 20; y < 280; ++y)
    for (int x = 0; x < width; ++x)
      if (x % 20 < 4) samples[static_cast<std::size_t>(y * width + x)] = 60;
  const ImageView image{samples.data(), width, height, width, SampleType::u8, 255.0};
  Hypothesis hypothesis;
  hypothesis.v_low = 20.0;
  hypothesis.v_high = 280.0;
  for (int i = 1; i < 19; ++i) {
    hypothesis.lattice.index.push_back(i - 1);
    hypothesis.lattice.position.push_back(20.0 * i - 0.5);
  }
  hypothesis.lattice.pitch = 20.0;
  CHECK(!level_row(image, strips_over(image, 0.0, 8.0, along_range(image, 0.0)), hypothesis));
}
