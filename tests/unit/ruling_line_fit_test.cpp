#include "ruling/line_fit.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace {

using scale::fit_lines;
using scale::LineFit;
using scale::LinePoint;

constexpr double kPitch = 47.5, kSigma = 0.002;

std::vector<LinePoint> lines(int count, unsigned seed) {
  std::mt19937 generator(seed);
  std::normal_distribution<double> noise(0.0, kSigma);
  std::vector<LinePoint> points;
  for (int i = 0; i < count; ++i) points.push_back({i, 190.0 + kPitch * i + noise(generator), kSigma});
  return points;
}

TEST_CASE("both end lines may be off, as those of a grid are, without taking the others with them") {
  for (const int count : {9, 12, 30}) {
    CAPTURE(count);
    std::vector<LinePoint> points = lines(count, 1);
    points.front().t += 0.2, points.back().t -= 0.2;
    const LineFit fit = fit_lines(points, 100.0, 0.0);
    CHECK_FALSE(fit.used.front());
    CHECK_FALSE(fit.used.back());
    CHECK(std::count(fit.used.begin(), fit.used.end(), true) == count - 2);
    CHECK(std::abs(fit.pitch - kPitch) < 4.0 * fit.pitch_uncertainty);
    CHECK(fit.pitch_uncertainty < 3.0 * kSigma / count);
  }
}

TEST_CASE("lines that follow a smooth change of the pitch are no outliers, their ends neither") {
  std::vector<LinePoint> points = lines(40, 2);
  for (LinePoint& point : points) point.t += 0.3 * std::pow((point.index - 19.5) / 19.5, 3);
  const LineFit fit = fit_lines(points, 100.0, 0.0);
  CHECK(std::count(fit.used.begin(), fit.used.end(), true) == 40);
  CHECK(fit.nonlinearity_p_value < 0.01);
  CHECK(std::abs(fit.pitch - (kPitch + 0.6 / 39.0)) < 3.0 * fit.pitch_uncertainty);
}

TEST_CASE("the mean pitch of a few lines of a distorted field is that from the first to the last") {
  for (const int count : {6, 7, 9}) {
    CAPTURE(count);
    std::vector<LinePoint> points = lines(count, 3);
    const double half = 0.5 * (count - 1);
    for (LinePoint& point : points) point.t += 0.8 * std::pow((point.index - half) / half, 3);
    const LineFit fit = fit_lines(points, 100.0, 0.0);
    CHECK(fit.nonlinearity_p_value < 0.001);
    CHECK(std::abs(fit.pitch - (kPitch + 0.8 / half)) < 3.0 * kSigma / half);
  }
}

}  // namespace
