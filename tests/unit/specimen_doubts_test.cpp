// Bodies that may be something else, and how far their edges may be off: soft rims, bubbles, letters, two as one.
#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <functional>

#include <scale/measurement.h>
#include <scale/specimen.h>

#include "image/frame.h"
#include "specimen/fibres.h"
#include "specimen/rim_fit.h"
#include "support/measured_body.h"

using namespace scale;
using test_support::measured;
using test_support::warned;

namespace {

constexpr int kSub = 3, kWidth = 600, kHeight = 420;  // samples a pixel, each way; pixels
constexpr double kGround = 190.0, kNoise = 2.0;       // grey values

// A picture of which each place takes this share of the light, blurred, with noise.
cv::Mat pictured(double blur, const std::function<double(double, double)>& taken) {
  cv::Mat light(kSub * kHeight, kSub * kWidth, CV_32F), small, grey;
  for (int y = 0; y < light.rows; ++y)
    for (int x = 0; x < light.cols; ++x)
      light.at<float>(y, x) =
          static_cast<float>(kGround * (1.0 - taken((x + 0.5) / kSub - 0.5, (y + 0.5) / kSub - 0.5)));
  cv::GaussianBlur(light, light, {}, blur * kSub);
  cv::resize(light, small, {kWidth, kHeight}, 0, 0, cv::INTER_AREA);
  cv::Mat noise(small.size(), CV_32F);
  cv::theRNG().state = 11;
  cv::randn(noise, 0.0, kNoise);
  small += noise;
  small.convertTo(grey, CV_8U);
  return grey;
}

SpecimenReading read(const cv::Mat& grey) { return find_bodies(as_view(grey, 255.0)); }

double rimmed(double u, double half, double rim, double taken, double inner) {
  if (std::abs(u) > half) return 0.0;
  return std::abs(u) > half - rim ? taken : inner;
}

}  // namespace

TEST_CASE("the edge of a rim narrower than its blur lies within what is claimed") {
  const auto beyond = [](double t) { return 0.5 * std::erfc(t / std::sqrt(2.0)); };
  for (const double width : {0.5, 1.0, 2.0, 3.0}) {
    constexpr double kBlur = 3.0, kInner = 0.5, kRim = 2.0;
    const auto step = [&](double t) {
      return kRim * beyond(t / kBlur) + (kInner - kRim) * beyond((t + width) / kBlur);
    };
    double half = 0.0, most = 0.0;
    for (double t = -20.0; t < 20.0; t += 0.01) most = std::max(most, step(t));
    for (double t = -20.0; t < 20.0; t += 0.01)
      if (step(t) > 0.5 * most) half = t;
    MeanProfile mean;
    mean.first = -14.0;
    for (double t = mean.first; t < 14.0; t += mean.step) mean.values.push_back(step(t + half));
    const RimFit fit = fit_rim(mean, 0.0, most, 4.0, 14.0, kBlur, 0.0);
    CAPTURE(width);
    REQUIRE(fit.good);
    CHECK(std::abs(fit.edge + half) < 2.0 * fit.doubt);
    CHECK(fit.doubt < kBlur);
  }
}

TEST_CASE("U of a soft rimmed fibre, and of a solid one out of focus, covers what blur hides") {
  for (const double half : {7.0, 16.0})
    for (const double rim : {1.4, 3.0})
      for (const double inner : {0.04, 0.12}) {
        CAPTURE(half);
        CAPTURE(rim);
        CAPTURE(inner);
        const auto reading = read(pictured(3.4, [&](double x, double y) {
          return rimmed(y - 210.0 - 0.1 * x, half, rim, 0.45, inner) * (x > 40 && x < 560);
        }));
        if (reading.bodies.empty()) continue;  // told so
        const MeasuredBody fibre = measured(reading);
        const double truth = 2.0 * half / std::hypot(1.0, 0.1);
        CHECK(std::abs(fibre.width_um.value - truth) < 1.5 * fibre.width_um.expanded());
      }
}

TEST_CASE("a fibre far out of focus is found, wherever its silhouette ends") {
  for (const double slope : {0.05, 0.2, 0.5}) {
    CAPTURE(slope);
    const MeasuredBody fibre = measured(read(pictured(5.5, [&](double x, double y) {
      return std::abs(y - 210.0 - slope * (x - 300.0)) / std::hypot(1.0, slope) < 22.5 ? 0.5 : 0.0;
    })));
    CHECK(std::abs(fibre.width_um.value - 45.0) < 0.5);
  }
}

TEST_CASE("a sharp solid fibre is charged nothing for want of focus") {
  const MeasuredBody fibre = measured(
      read(pictured(1.2, [](double x, double y) { return std::abs(y - 210.0 - 0.1 * x) < 15.0 ? 0.5 : 0.0; })));
  CHECK(fibre.width_um.expanded() < 0.1);
}

TEST_CASE("a round body with a dark ring and a bright middle is told as perhaps a bubble, a grain is not") {
  const SpecimenReading reading = read(pictured(1.0, [](double x, double y) {
    const double bubble = std::hypot(x - 150, y - 200), disc = std::hypot(x - 300, y - 200);
    const double grain = std::hypot((x - 460) / 1.4, y - 200);
    return (bubble < 40.0 && bubble > 27.0 ? 0.7 : 0.0) + (disc < 40.0 ? 0.5 : 0.0) +
           (grain < 40.0 && grain > 36.0 ? 0.5 : 0.0);
  }));
  REQUIRE(reading.bodies.size() == 3);
  const auto bubbles =
      std::count_if(reading.bodies.begin(), reading.bodies.end(), [](const Body& body) { return body.bubble_like; });
  CHECK(bubbles == 1);
  CHECK(std::any_of(reading.bodies.begin(), reading.bodies.end(),
                    [](const Body& body) { return body.bubble_like && std::abs(body.at.x - 150.0) < 2.0; }));
  CHECK(warned(reading, "bubbles"));
}

TEST_CASE("two rimmed fibres side by side are told where they pass for one, a single one is not") {
  const auto slanted = [](double x, double y) { return y - 150.0 - 0.2 * x; };
  const SpecimenReading pair = read(pictured(1.3, [&](double x, double y) {
    const double u = slanted(x, y);
    return rimmed(u + 14.0, 14.0, 3.0, 0.4, 0.05) + rimmed(u - 15.0, 15.0, 3.0, 0.4, 0.05);
  }));
  for (const Body& body : pair.bodies) CHECK((mean_width(body) < 35.0 || body.line_inside));
  const SpecimenReading single =
      read(pictured(1.3, [&](double x, double y) { return rimmed(slanted(x, y), 20.0, 3.0, 0.4, 0.05); }));
  REQUIRE(single.bodies.size() == 1);
  CHECK_FALSE(single.bodies.front().line_inside);
}

TEST_CASE("letters of a middle grey with hard edges are left out beside softer bodies, and kept where all is hard") {
  const auto disc = [](double x, double y) { return std::hypot(x - 300, y - 150) < 40.0 ? 0.5 : 0.0; };
  cv::Mat grey = pictured(1.1, disc);
  const auto draw = [](cv::Mat& picture) {
    // Values as coding with loss leaves them: not all alike.
    cv::theRNG().state = 5;
    for (int i = 0; i < 4; ++i)
      for (int y = 350; y < 380; ++y)
        for (int x = 60 + 40 * i; x < 78 + 40 * i; ++x)
          picture.at<std::uint8_t>(y, x) =
              cv::saturate_cast<std::uint8_t>(95 + static_cast<int>(cv::theRNG().uniform(0, 9)));
  };
  draw(grey);
  const SpecimenReading soft = read(grey);
  CHECK(soft.bodies.size() == 1);
  CHECK(warned(soft, "drawn-marks"));
  cv::Mat hard = pictured(0.2, disc);
  draw(hard);
  CHECK(read(hard).bodies.size() == 5);
}

TEST_CASE("the wall of a hollow grain that the frame cuts is no fibre") {
  const SpecimenReading reading = read(pictured(1.0, [](double x, double y) {
    const double r = std::hypot(x - 300, y - 400);
    return r < 50.0 && r > 39.0 ? 0.5 : 0.0;
  }));
  for (const Body& body : reading.bodies) CHECK(body.kind == BodyKind::grain);
}

TEST_CASE("a fibre a little paler than the one it lies beside is told, one in slanting light or round is not") {
  const auto along = [](double x, double y) { return (y - 150.0 - 0.2 * x) / std::hypot(1.0, 0.2); };
  for (const double overlap : {-2.0, 0.0, 2.0}) {
    CAPTURE(overlap);
    const SpecimenReading pair = read(pictured(1.2, [&](double x, double y) {
      const double u = along(x, y);
      const double dark = std::abs(u + 12.0) < 12.0 ? 0.6 : 0.0, pale = std::abs(u - 12.0 + overlap) < 12.0 ? 0.5 : 0.0;
      return 1.0 - (1.0 - dark) * (1.0 - pale);
    }));
    for (const Body& body : pair.bodies) CHECK((mean_width(body) < 30.0 || body.line_inside));
  }
  const auto single = [&](const std::function<double(double)>& taken) {
    const SpecimenReading reading = read(pictured(1.2, [&](double x, double y) {
      const double u = along(x, y);
      return std::abs(u) < 23.0 ? taken(u) : 0.0;
    }));
    REQUIRE(reading.bodies.size() == 1);
    return reading.bodies.front();
  };
  CHECK_FALSE(single([](double u) { return 0.55 + 0.003 * u; }).line_inside);
  CHECK_FALSE(single([](double u) { return 1.0 - std::exp(-1.2 * std::sqrt(1.0 - u * u / 529.0)); }).line_inside);
}

TEST_CASE("two lines that may be the sides of one transparent fibre are told, one fibre and two wide ones are not") {
  const auto lines = [](double blur, double width, double apart) {
    return read(pictured(blur, [&](double x, double y) {
      const double u = (y - 150.0 - 0.2 * x) / std::hypot(1.0, 0.2);
      return std::abs(std::abs(u) - 0.5 * apart) < 0.5 * width ? 0.3 : 0.0;
    }));
  };
  const SpecimenReading sides = lines(2.5, 7.0, 40.0);
  CHECK_FALSE(sides.bodies.empty());
  for (const Body& body : sides.bodies) CHECK((mean_width(body) > 20.0 || body.line_beside));
  CHECK(warned(sides, "line-beside"));
  CHECK_FALSE(warned(lines(1.2, 24.0, 60.0), "line-beside"));
  const SpecimenReading single =
      read(pictured(2.5, [](double x, double y) { return std::abs(y - 210.0 - 0.1 * x) < 4.0 ? 0.4 : 0.0; }));
  CHECK_FALSE(warned(single, "line-beside"));
}

TEST_CASE("U of a round fibre that absorbs covers how far its half level lies inside, and it is told") {
  for (const double radius : {12.0, 20.0, 28.0})
    for (const double depth : {0.6, 1.2, 2.5}) {
      CAPTURE(radius);
      CAPTURE(depth);
      const MeasuredBody fibre = measured(read(pictured(1.1, [&](double x, double y) {
        const double u = (y - 190.0 - 0.1 * x) / std::hypot(1.0, 0.1) / radius;
        return std::abs(u) < 1.0 ? 1.0 - std::exp(-depth * std::sqrt(1.0 - u * u)) : 0.0;
      })));
      CHECK(std::abs(fibre.width_um.value - 2.0 * radius) < fibre.width_um.expanded());
      CHECK(std::find(fibre.notes.begin(), fibre.notes.end(), "round-edge") != fibre.notes.end());
    }
}

TEST_CASE("the walls of bubbles that touch are no fibres") {
  const SpecimenReading reading = read(pictured(1.0, [](double x, double y) {
    const auto ring = [&](double cx, double cy) {
      const double r = std::hypot(x - cx, y - cy);
      return r < 30.0 && r > 22.0 ? 0.8 : 0.0;
    };
    return std::max({ring(150, 150), ring(195, 180), ring(380, 200), ring(412, 200)});
  }));
  for (const Body& body : reading.bodies) CHECK(body.kind == BodyKind::grain);
}
