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
  // Not the cloud: the renderer interpolates it from a coarse grid, which is the very trace. Not the tiles: squares
  // laid exactly along the raster are the limit that drift.h states.
  const NoScale kinds[] = {NoScale::blank,           NoScale::discs,     NoScale::fibres,
                           NoScale::parallel_fibres, NoScale::grains,    NoScale::text_page,
                           NoScale::cloth,           NoScale::brickwork, NoScale::voronoi};
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

TEST_CASE("broken factors are found without JPEG, with the frequency of the factor") {
  for (const double factor : {0.9, 1.1, 1.4, 1.5}) {
    int found = 0;
    for (unsigned seed = 1; seed <= 10; ++seed) {
      micrograph::Scene scene = scene_of(NoScale::fibres, 100 + seed);
      scene.sensor.resample = factor;
      const std::vector<double> list = traces(scene);
      found += std::any_of(list.begin(), list.end(),
                           [&](double f) { return std::abs(f - expected_frequency(factor)) < 0.005; });
    }
    CAPTURE(factor);
    CHECK(found >= 8);
  }
}

TEST_CASE("limits as stated: halves leave nothing to see") {
  int found = 0;
  for (unsigned seed = 1; seed <= 10; ++seed) {
    micrograph::Scene scene = scene_of(NoScale::fibres, 200 + seed);
    scene.sensor.resample = 0.5;
    found += !traces(scene).empty();
  }
  CHECK(found == 0);
}

}  // namespace
