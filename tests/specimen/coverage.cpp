#include "coverage.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include <micrograph/files.h>
#include <micrograph/render.h>
#include <micrograph/specimen.h>
#include <scale/measurement.h>

#include "support/grey_picture.h"

namespace specimen_test {
namespace {

struct Draw {
  micrograph::Scene scene;
  scale::MeasurementConditions conditions;
  double factor = 0.0;   // the true one, micrometres per pixel
  double edge_px = 0.0;  // half level outside the true edge
};

// What a laboratory states and what is then true of this picture.
Draw drawn(micrograph::Random& random, std::uint64_t seed) {
  Draw draw;
  draw.scene = micrograph::empty_slide(seed);
  draw.scene.width = 400, draw.scene.height = 300;
  draw.scene.ground.contrast = random.uniform(0.35, 0.7);
  draw.scene.optics.gaussian_px = random.uniform(0.9, 1.8);
  draw.scene.sensor.read_noise = random.uniform(1.0, 6.0);
  draw.scene.sensor.gamma = random.uniform(1.0, 2.2);
  const double stated = random.uniform(0.2, 0.8), relative = random.log_uniform(3e-4, 3e-3);
  draw.factor = stated * (1.0 + relative * random.normal());
  draw.conditions.scale.x_um_per_pixel = draw.conditions.scale.y_um_per_pixel = stated;
  draw.conditions.scale.relative_uncertainty = relative;
  const double limit = random.uniform(0.2, 0.6) * stated;
  draw.conditions.edge_uncertainty = scale::Micrometres{limit / std::sqrt(3.0)};
  draw.edge_px = random.uniform(-limit, limit) / draw.factor;
  return draw;
}

std::vector<scale::MeasuredBody> measured(const Draw& draw) {
  return scale::measure_bodies(scale::find_bodies(test_support::grey_picture(draw.scene).view()), draw.conditions);
}

struct Case {
  double error = 0.0, expanded = 0.0;
};

Case fibre_case(std::uint64_t seed) {
  micrograph::Random random(seed, 0xc0f1b);
  Draw draw = drawn(random, seed);
  const double width = random.log_uniform(14.0, 60.0);
  draw.scene.bodies.push_back(
      micrograph::arc_fibre(200, 150, random.uniform(0, 180), 230.0, width + 2.0 * draw.edge_px));
  const auto bodies = measured(draw);
  if (bodies.size() != 1) return {1e9, 0.0};
  return {bodies[0].width_um.value - draw.factor * width, bodies[0].width_um.expanded()};
}

Case grain_case(std::uint64_t seed) {
  micrograph::Random random(seed, 0xc06a1);
  Draw draw = drawn(random, seed);
  const double a = random.log_uniform(12.0, 90.0), b = a * random.uniform(0.6, 1.0), d = draw.edge_px;
  draw.scene.bodies.push_back(micrograph::ellipse_grain(200, 150, a, b, random.uniform(0, 180)));
  // The true outline lies `d` inside the drawn one: area less perimeter times d, plus pi d^2 (Steiner).
  const micrograph::TruthBody truth = micrograph::truth_of(draw.scene).bodies.at(0);
  const double area = truth.area_px2 - truth.perimeter_px * d + 3.141592653589793 * d * d;
  const auto bodies = measured(draw);
  if (bodies.size() != 1 || !bodies[0].area_um2) return {1e9, 0.0};
  return {bodies[0].area_um2->value - draw.factor * draw.factor * area, bodies[0].area_um2->expanded()};
}

Coverage coverage_of(int count, std::uint64_t seed, Case (*make)(std::uint64_t)) {
  std::vector<Case> cases(static_cast<std::size_t>(count));
  tbb::parallel_for(0, count,
                    [&](int i) { cases[static_cast<std::size_t>(i)] = make(seed + static_cast<std::uint64_t>(i)); });
  Coverage coverage{count, 0, 0.0};
  std::vector<double> ratios;
  for (const Case& one : cases) {
    coverage.covered += std::abs(one.error) <= one.expanded;
    ratios.push_back(std::abs(one.error) / std::max(one.expanded, 1e-12));
  }
  std::nth_element(ratios.begin(), ratios.begin() + count / 2, ratios.end());
  coverage.median_ratio = ratios[static_cast<std::size_t>(count / 2)];
  return coverage;
}

}  // namespace

Coverage coverage_of_fibres(int count, std::uint64_t seed) { return coverage_of(count, seed, fibre_case); }
Coverage coverage_of_grains(int count, std::uint64_t seed) { return coverage_of(count, seed, grain_case); }

}  // namespace specimen_test
