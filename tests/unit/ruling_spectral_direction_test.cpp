#include <doctest/doctest.h>

#include <opencv2/core.hpp>

#include <cmath>
#include <random>

#include <scale/units.h>

#include "image/frame.h"
#include "ruling/spectral_direction.h"
#include "ruling/working_view.h"

namespace {

// Dots in a square raster: `amplitude` times the product of two sines of that period, in unit noise.
cv::Mat raster(double angle, double period, double amplitude, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<float> noise;
  cv::Mat samples(500, 700, CV_32F);
  const double c = std::cos(angle), s = std::sin(angle), k = 2.0 * scale::kPi / period;
  for (int y = 0; y < samples.rows; ++y)
    for (int x = 0; x < samples.cols; ++x)
      samples.at<float>(y, x) =
          static_cast<float>(amplitude * (std::cos(k * (x * c + y * s)) + std::cos(k * (y * c - x * s)))) +
          noise(random);
  return samples;
}

}  // namespace

TEST_CASE("directions of a raster far below the noise are found to half a degree") {
  for (const double angle : {-1.2, -0.4, 0.003, 0.7, 1.5})
    for (const double period : {4.0, 9.3, 24.0}) {
      CAPTURE(angle);
      CAPTURE(period);
      const cv::Mat samples = raster(angle, period, 0.25, 7);
      const auto found = scale::spectral_directions(scale::as_view(samples, 1.0));
      REQUIRE(found.size() == 2);
      for (const double direction : found) {
        const double along = std::abs(scale::folded(direction - angle)),
                     across = std::abs(scale::folded(direction - angle - scale::kPi / 2.0));
        CHECK(std::min(along, across) < 0.5 * scale::kPi / 180.0);
      }
    }
}

TEST_CASE("noise alone and pictures too small have no directions") {
  for (unsigned seed = 1; seed <= 20; ++seed)
    CHECK(scale::spectral_directions(scale::as_view(raster(0.0, 9.0, 0.0, seed), 1.0)).empty());
  CHECK(scale::spectral_directions(scale::as_view(cv::Mat(100, 400, CV_8U, cv::Scalar(0)), 255.0)).empty());
}
