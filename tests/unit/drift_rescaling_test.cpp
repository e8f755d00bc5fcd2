// The trace that resampling leaves: found at broken factors, never in untouched pictures, whatever lies on them.
#include <doctest/doctest.h>
#include <micrograph/random.h>
#include <micrograph/render.h>
#include <scale/drift.h>

#include <algorithm>
#include <cmath>

#include "support/grey_picture.h"

namespace {

using micrograph::NoScale;

micrograph::Scene scene_of(NoScale kind, unsigned seed) {
  micrograph::Scene scene;
  scene.width = 768, scene.height = 640;
  scene.no_scale = kind;
  scene.seed = seed;
  scene.optics.gaussian_px = 1.2;
  scene.sensor.full_well = 10000.0, scene.sensor.read_noise = 0.8;
  return scene;
}

std::vector<double> traces(const micrograph::Scene& scene) {
  return scale::find_rescaling(test_support::grey_picture(scene).view());
}

// The distance of 1 / factor to the nearest whole number.
double expected_frequency(double factor) { return std::abs(1.0 / factor - std::round(1.0 / factor)); }

TEST_CASE("untouched pictures of every kind leave no trace, JPEG and mosaic ones neither") {
  // Not the cloud: the renderer interpolates it from a coarse grid, which is the very trace.
  const NoScale kinds[] = {NoScale::blank,  NoScale::discs,     NoScale::fibres, NoScale::parallel_fibres,
                           NoScale::grains, NoScale::text_page, NoScale::cloth,  NoScale::brickwork,
                           NoScale::tiles,  NoScale::voronoi};
  for (const NoScale kind : kinds)
    for (unsigned seed = 1; seed <= 6; ++seed) {
      micrograph::Scene scene = scene_of(kind, seed);
      scene.regular = seed % 3 == 0;
      if (seed % 2 == 0) scene.sensor.jpeg_quality = 85;
      if (seed == 5) scene.colour.channels = 3, scene.colour.mosaic = true;
      CAPTURE(static_cast<int>(kind));
      CAPTURE(seed);
      CHECK(traces(scene).empty());
    }
}

// Patterns that lie exactly along the rows and columns: the edges of all cells fall on the same pixels, again and
// again.
enum class Pattern { squares, checks, weave };

double shade(Pattern pattern, double x, double y, double period, std::uint64_t seed) {
  const double pi = std::acos(-1.0), column = std::floor(x / period), row = std::floor(y / period);
  const bool odd = std::fmod(column + row, 2.0) != 0.0;
  switch (pattern) {
    case Pattern::squares:
      return micrograph::Random(seed, static_cast<std::uint64_t>(1000.0 * row + column)).uniform(-1.0, 1.0);
    case Pattern::checks:
      return odd ? 1.0 : -1.0;
    case Pattern::weave:  // threads that pass over and under
      break;
  }
  return odd ? std::cos(pi * (x / period - column - 0.5)) : 0.8 * std::cos(pi * (y / period - row - 0.5));
}

test_support::GreyPicture patterned(Pattern pattern, double period, double contrast, std::uint64_t seed) {
  constexpr int kWidth = 720, kHeight = 560, kParts = 4;  // samples to a pixel and direction: edges are a pixel wide
  test_support::GreyPicture picture{{}, kWidth, kHeight};
  micrograph::Random random(seed, 77);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      double sum = 0.0;
      for (int part = 0; part < kParts * kParts; ++part)
        sum += shade(pattern, x + (part % kParts + 0.5) / kParts, y + (part / kParts + 0.5) / kParts, period, seed);
      const double light = 120.0 + contrast * sum / (kParts * kParts);
      picture.samples.push_back(
          static_cast<std::uint8_t>(std::lround(light + 2.0 * std::sqrt(light / 120.0) * random.normal())));
    }
  return picture;
}

TEST_CASE("a specimen that repeats exactly along the rows and columns is not taken for a rescaled picture") {
  std::uint64_t seed = 0;
  for (const Pattern pattern : {Pattern::squares, Pattern::checks, Pattern::weave})
    for (const double period : {5.0, 5.5, 7.0, 13.3, 37.0})
      for (const double contrast : {3.0, 12.0, 50.0}) {
        CAPTURE(static_cast<int>(pattern));
        CAPTURE(period);
        CAPTURE(contrast);
        CHECK(scale::find_rescaling(patterned(pattern, period, contrast, ++seed).view()).empty());
      }
}

TEST_CASE("broken factors are found without JPEG, with the frequency of the factor") {
  for (const double factor : {0.75, 0.85, 0.9, 1.1, 1.25, 1.4, 1.5}) {
    int found = 0;
    for (unsigned seed = 1; seed <= 10; ++seed) {
      micrograph::Scene scene = scene_of(NoScale::fibres, 100 + seed);
      scene.sensor.resample = factor;
      const std::vector<double> list = traces(scene);
      found += std::any_of(list.begin(), list.end(),
                           [&](double f) { return std::abs(f - expected_frequency(factor)) < 0.005; });
    }
    CAPTURE(factor);
    CHECK(found >= (factor < 0.8 ? 5 : 8));  // the renderer's kernel takes a mean over the old samples
  }
}

TEST_CASE("a camera that rescales every picture shows it in its pictures of the scale too, though their lines repeat") {
  for (const double factor : {0.9, 1.1, 1.4}) {
    micrograph::Scene scene = scene_of(NoScale::none, 41);
    micrograph::LineScale scale;
    scale.pitch_px = 14.6, scale.count = 45, scale.line_width_px = 3.6;
    scale.origin_x = 60.0, scale.origin_y = 320.0;
    scene.scales = {scale};
    scene.sensor.resample = factor;
    const std::vector<double> list =
        scale::find_rescaling(test_support::grey_picture(scene).view(), scale::Trace::possible);
    CAPTURE(factor);
    CHECK(std::any_of(list.begin(), list.end(),
                      [&](double f) { return std::abs(f - expected_frequency(factor)) < 0.005; }));
  }
}

TEST_CASE("limits as stated: halves and four fifths leave nothing to see") {
  int found = 0;
  for (unsigned seed = 1; seed <= 10; ++seed) {
    micrograph::Scene scene = scene_of(NoScale::fibres, 200 + seed);
    scene.sensor.resample = seed % 2 == 0 ? 0.5 : 0.8;
    found += !traces(scene).empty();
  }
  CHECK(found == 0);
}

}  // namespace
