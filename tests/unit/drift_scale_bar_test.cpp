// Bars drawn by the test itself, to a part of a pixel, over rendered specimens: their length, and what is refused.
#include <doctest/doctest.h>
#include <images/read_image.h>
#include <micrograph/random.h>
#include <micrograph/render.h>
#include <scale/scale_bar.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "support/grey_picture.h"
#include "support/picture_files.h"

namespace {

using test_support::GreyPicture;

// Pixels. Where a fibre's edge lies beside a pixel that the bar covers in part, what is under it is not known.
constexpr double kUsually = 0.15, kFurthest = 0.8;
constexpr double kCovers =
    3.0;  // standard uncertainties that hold every error, with half a tenth of a pixel for rounding
constexpr double kRounding = 0.05;

// How far lengths lay off, and what was said of that.
struct Errors {
  int usual = 0, count = 0;
  double most = 0.0;

  void add(const scale::ScaleBar& bar, double length) {
    const double error = std::abs(bar.length_px - length);
    CHECK(error < kCovers * bar.uncertainty_px + kRounding);
    CHECK(bar.uncertainty_px < kFurthest);
    usual += error < kUsually, ++count, most = std::max(most, error);
  }
  void check() const {
    MESSAGE(usual << " of " << count << " lengths within " << kUsually << " pixels, the furthest off by " << most);
    CHECK(usual >= 0.7 * count);
    CHECK(most < kFurthest);
  }
};

// Fibres on an uneven ground, from 60 to 200 grey values.
GreyPicture specimen(unsigned seed, micrograph::NoScale kind = micrograph::NoScale::fibres) {
  micrograph::Scene scene;
  scene.width = 400, scene.height = 80;
  scene.no_scale = kind;
  scene.seed = seed;
  scene.optics.gaussian_px = 1.2;
  return test_support::grey_picture(scene);
}

// From left to right and top to bottom, each an edge in pixel coordinates, by the share that it covers of a pixel.
void draw(GreyPicture& picture, double left, double right, double top, double bottom, int level) {
  const auto share = [](double first, double last, int pixel) {
    return std::clamp(std::min(last, pixel + 0.5) - std::max(first, pixel - 0.5), 0.0, 1.0);
  };
  for (int y = 0; y < picture.height; ++y)
    for (int x = 0; x < picture.width; ++x) {
      const double covered = share(left, right, x) * share(top, bottom, y);
      std::uint8_t& sample = picture.samples[static_cast<std::size_t>(y) * picture.width + x];
      sample = static_cast<std::uint8_t>(std::lround(sample + covered * (level - sample)));
    }
}

// A label of upright and level strokes beside the bar, as letters have them.
void draw_label(GreyPicture& picture, double left, int level) {
  for (int i = 0; i < 5; ++i) {
    draw(picture, left + 14.0 * i, left + 14.0 * i + 2.0, 10.5, 30.5, level);
    draw(picture, left + 14.0 * i, left + 14.0 * i + 10.0, 10.5, 12.5, level);
  }
}

TEST_CASE("a bar is measured to a small part of a pixel, wherever its ends lie, dark or bright, with its label") {
  Errors errors;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    micrograph::Random random(seed);
    GreyPicture picture = specimen(seed);
    const double left = random.uniform(40.0, 60.0), length = random.uniform(120.0, 300.0);
    const int level = seed % 2 == 0 ? 255 : 0;
    draw(picture, left, left + length, 45.5, 51.5, level);
    draw_label(picture, 150.0, level);
    if (seed % 3 == 0)  // ticks at its ends, above and below
      for (const double top : {40.5, 51.5}) {
        draw(picture, left, left + 2.0, top, top + 5.0, level);
        draw(picture, left + length - 2.0, left + length, top, top + 5.0, level);
      }
    const scale::ScaleBarReading reading = scale::read_scale_bar(picture.view());
    CAPTURE(seed);
    CAPTURE(reading.problem);
    REQUIRE(reading.bar);
    errors.add(*reading.bar, length);
    CHECK(std::abs(reading.bar->left_px - left) < kFurthest);
  }
  errors.check();
}

TEST_CASE("a bar that went through JPEG, and one that was averaged to half the size") {
  const picture_files::TempFolder folder;
  Errors of_jpeg, of_half;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    CAPTURE(seed);
    micrograph::Random random(seed);
    const double left = random.integer(40, 60) - 0.5, length = random.integer(120, 300);
    GreyPicture picture = specimen(seed);
    draw(picture, left, left + length, 44.5, 52.5, seed % 2 == 0 ? 255 : 0);
    picture_files::JpegKind kind;
    kind.quality = 85;
    const std::string path = folder.path("bar.jpg");
    picture_files::write_jpeg_file(
        path, {picture.width, picture.height, 1, {picture.samples.begin(), picture.samples.end()}}, kind);
    const auto read = images::read_image(path, {});
    REQUIRE(read);
    const scale::ScaleBarReading from_jpeg = scale::read_scale_bar(read->view());
    CAPTURE(from_jpeg.problem);
    REQUIRE(from_jpeg.bar);
    of_jpeg.add(*from_jpeg.bar, length);
    GreyPicture half{{}, picture.width / 2, picture.height / 2};
    for (int y = 0; y < half.height; ++y)
      for (int x = 0; x < half.width; ++x) {
        const std::uint8_t* block = &picture.samples[static_cast<std::size_t>(2 * y) * picture.width + 2 * x];
        half.samples.push_back(
            static_cast<std::uint8_t>((block[0] + block[1] + block[picture.width] + block[picture.width + 1] + 2) / 4));
      }
    const scale::ScaleBarReading reduced = scale::read_scale_bar(half.view());
    CAPTURE(reduced.problem);
    REQUIRE(reduced.bar);
    of_half.add(*reduced.bar, length / 2.0);
  }
  of_jpeg.check();
  of_half.check();
}

TEST_CASE("a specimen without a bar shows none") {
  using micrograph::NoScale;
  for (const NoScale kind : {NoScale::blank, NoScale::fibres, NoScale::grains, NoScale::text_page, NoScale::cloth,
                             NoScale::brickwork, NoScale::voronoi, NoScale::discs})
    for (unsigned seed = 1; seed <= 20; ++seed) {
      CAPTURE(static_cast<int>(kind));
      CAPTURE(seed);
      CHECK_FALSE(scale::read_scale_bar(specimen(seed, kind).view()).bar);
    }
}

TEST_CASE("what is not clearly one whole bar is refused with the reason") {
  const auto problem = [](const GreyPicture& picture) {
    const scale::ScaleBarReading reading = scale::read_scale_bar(picture.view());
    CHECK_FALSE(reading.bar);
    return reading.problem;
  };
  GreyPicture cut = specimen(1);
  draw(cut, 250.5, 399.5, 45.5, 51.5, 255);
  CHECK(problem(cut).find("reaches the border") != std::string::npos);
  GreyPicture pieces = specimen(1);
  draw(pieces, 50.5, 150.5, 45.5, 51.5, 255);
  draw(pieces, 150.5, 250.5, 51.5, 57.5, 0);
  CHECK(problem(pieces).find("more than one") != std::string::npos);
  GreyPicture sloping = specimen(1);
  for (int i = 0; i < 50; ++i) draw(sloping, 50.5 + 4 * i, 54.5 + 4 * i, 30.5 + 0.5 * i, 36.5 + 0.5 * i, 255);
  CHECK(problem(sloping) == "no rectangle of one grey value lies there");
  CHECK_THROWS_AS(scale::read_scale_bar({}), std::invalid_argument);
}

}  // namespace
