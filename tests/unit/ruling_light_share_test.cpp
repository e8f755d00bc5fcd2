#include "ruling/light_share.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "support/within.h"

using namespace scale;

namespace {

constexpr int kTerms = 2;

// Heights along the ruling: a parabola of this depth, and what each line has of its own.
LightShare share_of(int lines, double depth, double own, unsigned seed) {
  std::mt19937 generator(seed);
  std::normal_distribution<double> scatter(0.0, own);
  std::vector<double> heights, smooth;
  for (int i = 0; i < lines; ++i) {
    const double z = 2.0 * i / (lines - 1.0) - 1.0;
    smooth.push_back(100.0 - depth * z * z);
    heights.push_back(smooth.back() + scatter(generator));
  }
  return share_of_light(heights, smooth, kTerms);
}

}  // namespace

TEST_CASE("A smooth change of many lines' heights is light's, their scatter is not") {
  const LightShare light = share_of(60, 20.0, 0.5, 1), own = share_of(60, 0.5, 10.0, 1);
  CHECK(light.share > 0.95);
  CHECK(light.uncertainty < 0.2);
  CHECK(own.share == 0.0);
  CHECK(own.uncertainty < 0.15);
}

TEST_CASE("Few lines leave it open whose their heights are") {
  CHECK(within(share_of(3, 20.0, 5.0, 1).uncertainty, 0.5, 1e-12));
  CHECK(share_of(7, 20.0, 7.0, 1).uncertainty > 0.3);
}

// (1 + A t) exp(-t^2 / (2 sigma^2)) is, to first order, the same line moved by A sigma^2.
TEST_CASE("A Gaussian line moves by its variance for each unit of slope") {
  constexpr double kSigma = 1.7;
  LineShape shape;
  shape.reach = 12.0;
  shape.window = 10.0;
  for (double t = -shape.reach; t <= shape.reach + 0.5 * LineShape::step; t += LineShape::step)
    shape.value.push_back(std::exp(-0.5 * t * t / (kSigma * kSigma)));
  differentiate(shape);
  CHECK(within(shift_by_slope(shape), kSigma * kSigma, 0.02));
}
