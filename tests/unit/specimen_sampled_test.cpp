// Specimens painted sample by sample in this file, which shares nothing with the renderer of micrographs: fibres with a
// dark core, thick as rods, side by side, pale under dark; hollow grains; bars that coding has changed.
#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include <scale/measurement.h>
#include <scale/specimen.h>

#include "image/frame.h"
#include "specimen/fibres.h"
#include "support/measured_body.h"
#include "support/within.h"

using namespace scale;
using test_support::measured;
using test_support::warned;

namespace {

constexpr int kSub = 3, kWidth = 600, kHeight = 420;  // samples a pixel, each way; pixels
constexpr double kGround = 190.0, kNoise = 2.0;       // grey values
// Pixels: the widths here are those of pictures with noise and blur over some 400 pixels of edge.
constexpr double kGood = 0.15;

struct Picture {
  cv::Mat light{kSub * kHeight, kSub* kWidth, CV_32F, cv::Scalar(1.0)};

  // A straight fibre through (x, y): `taken` says which share of the light it takes at u pixels from its middle line
  // and s along it.
  void add(double x, double y, double degrees, const std::function<double(double, double)>& taken) {
    const double c = std::cos(degrees * CV_PI / 180.0), s = std::sin(degrees * CV_PI / 180.0);
    each([&](double px, double py) {
      const double dx = px - x, dy = py - y;
      return taken(-dx * s + dy * c, dx * c + dy * s);
    });
  }

  void each(const std::function<double(double, double)>& taken) {
    for (int y = 0; y < light.rows; ++y)
      for (int x = 0; x < light.cols; ++x)
        light.at<float>(y, x) *= static_cast<float>(1.0 - taken((x + 0.5) / kSub - 0.5, (y + 0.5) / kSub - 0.5));
  }

  cv::Mat exposed(double blur) const {
    cv::Mat soft, small, grey;
    cv::GaussianBlur(light, soft, {}, blur * kSub);
    cv::resize(soft, small, {kWidth, kHeight}, 0, 0, cv::INTER_AREA);
    std::mt19937 random(7);
    std::normal_distribution<float> noise(0.0F, static_cast<float>(kNoise));
    small *= kGround;
    for (auto it = small.begin<float>(); it != small.end<float>(); ++it) *it += noise(random);
    small.convertTo(grey, CV_8U);
    return grey;
  }
};

SpecimenReading read(const cv::Mat& grey, const SpecimenOptions& options = {}) {
  return find_bodies(as_view(grey, 255.0), options);
}

double step(double u, double half, double taken) { return std::abs(u) < half ? taken : 0.0; }

}  // namespace

TEST_CASE("a fibre with a dark core is as wide as itself, not as its core") {
  Picture picture;
  picture.add(300, 210, 17, [](double u, double) { return step(u, 16.0, 0.25) + step(u, 5.0, 0.4); });
  const MeasuredBody fibre = measured(read(picture.exposed(1.2)));
  CHECK(fibre.kind == BodyKind::fibre);
  CHECK(within(fibre.width_um.value, 32.0, kGood));
}

TEST_CASE("a transparent fibre whose scales part its middle into cells is found beside a dark one") {
  constexpr double kRimmed = 0.3;  // pixels: what rims are asked for
  Picture picture;
  picture.add(300, 110, 12, [](double u, double) { return step(u, 14.0, 0.6); });
  picture.add(300, 290, -8, [](double u, double s) {
    const double across = s + 0.35 * std::abs(u);
    const double line = std::abs(across - 16.0 * std::round(across / 16.0)) < 1.0 ? 0.12 : 0.0;
    return std::abs(u) < 15.0 ? (std::abs(u) > 12.0 ? 0.4 : 0.04 + line) : 0.0;
  });
  const SpecimenReading reading = read(picture.exposed(1.1));
  REQUIRE(reading.bodies.size() == 2);
  CHECK(within(mean_width(reading.bodies[0]), 28.0, kGood));
  CHECK(within(mean_width(reading.bodies[1]), 30.0, kRimmed));
}

TEST_CASE("a fibre whose rims and core leave clear spaces between them is as wide as its rims") {
  constexpr double kRimmed = 0.3;  // pixels
  Picture picture;
  picture.add(300, 210, 21, [](double u, double) {
    return (std::abs(u) < 17.0 && std::abs(u) > 14.0 ? 0.35 : 0.0) + step(u, 8.0, 0.5);
  });
  const SpecimenReading reading = read(picture.exposed(1.0));
  REQUIRE(reading.bodies.size() == 1);
  CHECK(within(mean_width(reading.bodies[0]), 34.0, kRimmed));
}

TEST_CASE("the core of a fibre that shows only as two thin lines is not taken for a fibre") {
  Picture picture;
  picture.add(300, 210, -21, [](double u, double s) {
    const double rim = std::abs(u) < 15.0 && std::abs(u) > 12.5 ? 0.35 : 0.0;
    return rim + (std::abs(s) < 90.0 ? step(u, 4.0, 0.4) : 0.0);
  });
  for (const Body& body : read(picture.exposed(1.0)).bodies) {
    double sum = 0.0, count = 0.0;
    for (const LocalWidth& local : body.widths)
      if (local.used) sum += std::hypot(local.left.x - local.right.x, local.left.y - local.right.y), ++count;
    CHECK(within(sum / count, 30.0, 1.0));
  }
}

TEST_CASE("of a fibre thick as a rod, darkest right at its edge, U holds the width") {
  for (const double blur : {1.0, 1.8, 2.6}) {
    CAPTURE(blur);
    Picture picture;
    picture.add(300, 210, 11, [](double u, double) {
      const double share = std::abs(u) / 13.0;
      return share < 1.0 ? 0.45 * (0.35 + 0.65 * share * share * share) : 0.0;
    });
    const MeasuredBody fibre = measured(read(picture.exposed(blur)));
    // The half level alone is 0.27 blurs too far out at each edge.
    CHECK(within(fibre.width_um.value, 26.0, 0.25 * blur));
    CHECK(std::abs(fibre.width_um.value - 26.0) < fibre.width_um.expanded());
  }
}

TEST_CASE("two unlike fibres that lie side by side all along are not one wide one") {
  Picture picture;
  picture.add(300, 210, 9, [](double u, double) {
    return u > -24.0 && u <= 0.0 ? 0.25 : u > 0.0 && u < 20.0 ? 0.55 : 0.0;
  });
  CHECK(read(picture.exposed(1.0)).bodies.empty());
}

TEST_CASE("fibres that lie side by side and part at both ends are not measured where they are one") {
  Picture picture;
  const auto bent = [](double side, double half) {
    return [=](double u, double s) {
      const double away = std::max(0.0, std::abs(s) - 120.0);
      return step(u - side * (half + 0.0025 * away * away), half, 0.4);
    };
  };
  picture.add(300, 210, 0, bent(1.0, 11.0));
  picture.add(300, 210, 0, bent(-1.0, 11.0));
  const SpecimenReading reading = read(picture.exposed(1.0));
  CHECK(warned(reading, "side-by-side"));
  for (const Body& body : reading.bodies)
    for (const LocalWidth& local : body.widths)
      if (local.used) CHECK(std::hypot(local.left.x - local.right.x, local.left.y - local.right.y) < 28.0);
}

TEST_CASE("a pale fibre that crosses a dark one is one fibre") {
  Picture picture;
  picture.add(300, 210, 8, [](double u, double) { return step(u, 11.0, 0.15); });
  picture.add(300, 210, 85, [](double u, double) { return step(u, 9.0, 0.7); });
  CHECK(read(picture.exposed(1.0)).bodies.size() == 2);
}

TEST_CASE("a hollow grain is a grain, its wall no fibre") {
  Picture picture;
  picture.each([](double x, double y) {
    // Not round, so that the gap in the ring is no even rim.
    const double angle = std::atan2(y - 210, x - 300), r = std::hypot(x - 300, y - 210);
    const double outer = 50.0 + 8.0 * std::cos(3.0 * angle) + 6.0 * std::sin(2.0 * angle);
    return r < outer && r > 0.5 * outer ? 0.5 : 0.0;
  });
  CHECK(measured(read(picture.exposed(1.0))).kind == BodyKind::grain);
}

TEST_CASE("a bar drawn into the picture is no fibre, though coding has changed its values") {
  Picture picture;
  picture.add(300, 150, 5, [](double u, double) { return step(u, 12.0, 0.5); });
  cv::Mat grey = picture.exposed(1.0);
  std::mt19937 random(3);
  for (int y = 370; y < 380; ++y)
    for (int x = 380; x < 560; ++x) grey.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(random() % 9);
  const SpecimenReading reading = read(grey);
  CHECK(reading.bodies.size() == 1);
  CHECK(warned(reading, "drawn-marks"));
}

TEST_CASE("grains that touch and were not to be parted are told") {
  Picture picture;
  picture.each([](double x, double y) {
    return std::hypot(x - 250, y - 210) < 40.0 || std::hypot(x - 322, y - 210) < 34.0 ? 0.5 : 0.0;
  });
  picture.each([](double x, double y) { return std::hypot((x - 480) / 1.4, y - 100) < 30.0 ? 0.5 : 0.0; });
  const SpecimenReading reading = read(picture.exposed(1.0));
  REQUIRE(reading.bodies.size() == 2);
  CHECK(reading.bodies[0].necked == false);
  CHECK(reading.bodies[1].necked == true);
  CHECK(warned(reading, "touching"));
}
