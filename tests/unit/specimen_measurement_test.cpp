// Sizes of outlines in closed form, factors, uncertainties and distributions.
#include <doctest/doctest.h>

#include <scale/measurement.h>

#include <cmath>
#include <random>
#include <vector>

#include "specimen/narrow.h"
#include "support/within.h"

using namespace scale;

namespace {

constexpr double kRounding = 1e-9;  // relative, of sums over some hundred points

using Outline = std::vector<PixelPoint>;

Outline ellipse(double a, double b, double angle, int points = 3600) {
  Outline outline;
  for (int i = 0; i < points; ++i) {
    const double t = 2.0 * kPi * i / points, u = a * std::cos(t), v = b * std::sin(t);
    outline.push_back(
        {500 + u * std::cos(angle) - v * std::sin(angle), 300 + u * std::sin(angle) + v * std::cos(angle)});
  }
  return outline;
}

SpecimenReading reading_of(const Outline& outline, BodyKind kind = BodyKind::grain) {
  SpecimenReading reading;
  reading.width = 1000, reading.height = 800;
  Body body;
  body.kind = kind;
  body.outline = outline;
  body.edge_blur_px = 1.0, body.edge_noise_px = 0.05, body.edge_length_px = 7.0;
  body.inside_level = 60, body.outside_level = 180;
  for (int i = 0; i < 140; ++i) body.widths.push_back({{100.0 + i, 90.0}, {100.0 + i, 110.0}, true});
  reading.bodies.push_back(body);
  return reading;
}

MeasurementConditions half_micrometre_pixels() {
  MeasurementConditions conditions;
  conditions.scale.x_um_per_pixel = conditions.scale.y_um_per_pixel = 0.5;
  conditions.edge_uncertainty = Micrometres{0.0};
  conditions.grey = GreyCurve::linear;
  return conditions;
}

// Mean breadth over all directions by Cauchy: the perimeter of a convex body over pi.
double mean_breadth(const Outline& outline) {
  double sum = 0.0;
  constexpr int kDirections = 1800;
  for (int i = 0; i < kDirections; ++i) {
    const double c = std::cos(kPi * i / kDirections), s = std::sin(kPi * i / kDirections);
    double low = 1e300, high = -1e300;
    for (const PixelPoint& p : outline)
      low = std::min(low, p.x * c + p.y * s), high = std::max(high, p.x * c + p.y * s);
    sum += high - low;
  }
  return sum / kDirections;
}

}  // namespace

TEST_CASE("area, perimeter and Feret diameters of simple figures are exact") {
  const OutlineSizes square = sizes_of(Outline{{0, 0}, {10, 0}, {10, 10}, {0, 10}});
  CHECK(within(square.area, 100.0, kRounding));
  CHECK(within(square.perimeter, 40.0, kRounding));
  CHECK(within(square.feret_min, 10.0, kRounding));
  CHECK(within(square.feret_max, 10.0 * std::sqrt(2.0), kRounding));

  const OutlineSizes rectangle = sizes_of(Outline{{0, 0}, {30, 0}, {30, 10}, {0, 10}});
  CHECK(within(rectangle.feret_min, 10.0, kRounding));
  CHECK(within(rectangle.feret_max, std::hypot(30.0, 10.0), kRounding));

  const double a = 12.0, height = a * std::sqrt(3.0) / 2.0;
  const OutlineSizes triangle = sizes_of(Outline{{0, 0}, {a, 0}, {a / 2, height}});
  CHECK(within(triangle.area, a * height / 2.0, kRounding));
  CHECK(within(triangle.feret_min, height, kRounding));
  CHECK(within(triangle.feret_max, a, kRounding));

  // 3600 corners on the curve: short of it by 5e-7 of the radius.
  const OutlineSizes circle = sizes_of(ellipse(40, 40, 0));
  CHECK(within(circle.area, kPi * 1600.0, 0.01));
  CHECK(within(circle.perimeter, 80.0 * kPi, 1e-3));
  CHECK(within(circle.feret_min, 80.0, 1e-3));
  CHECK(within(circle.feret_max, 80.0, 1e-9));

  const OutlineSizes oval = sizes_of(ellipse(40, 25, 0.6));
  CHECK(within(oval.area, kPi * 1000.0, 0.01));
  CHECK(within(oval.feret_min, 50.0, 1e-3));
  CHECK(within(oval.feret_max, 80.0, 1e-3));
}

TEST_CASE("the mean Feret diameter of a convex body is its perimeter over pi (Cauchy)") {
  for (const auto& outline : {ellipse(40, 25, 0.3, 720), Outline{{0, 0}, {30, 0}, {30, 10}, {0, 10}},
                              Outline{{0, 0}, {12, 0}, {6, 10.392304845413264}}})
    CHECK(within(mean_breadth(outline), sizes_of(outline).perimeter / kPi, 1e-4 * sizes_of(outline).perimeter));
}

TEST_CASE("shape factors follow their formulas body by body") {
  const auto outline = Outline{{0, 0}, {20, 0}, {20, 20}, {10, 8}, {0, 20}};  // with a hollow
  const OutlineSizes sizes = sizes_of(outline);
  const double area = 400.0 - 0.5 * 20.0 * 12.0, around = 60.0 + 2.0 * std::hypot(10.0, 12.0);
  const double hull = 400.0, hull_around = 80.0, most = 20.0 * std::sqrt(2.0);
  CHECK(within(sizes.area, area, kRounding));
  CHECK(within(sizes.shape.circularity, std::sqrt(4 * kPi * area) / around, kRounding));
  CHECK(within(sizes.shape.form_factor, 4 * kPi * area / (around * around), kRounding));
  CHECK(within(sizes.shape.roundness, 4 * area / (kPi * most * most), kRounding));
  CHECK(within(sizes.shape.compactness, std::sqrt(4 * area / kPi) / most, kRounding));
  CHECK(within(sizes.shape.aspect_ratio, 20.0 / most, kRounding));
  CHECK(within(sizes.shape.solidity, area / hull, kRounding));
  CHECK(within(sizes.shape.convexity, hull_around / around, kRounding));
}

TEST_CASE("x and y factors count along their own directions") {
  MeasurementConditions conditions = half_micrometre_pixels();
  conditions.scale.y_um_per_pixel = 0.6;
  const MeasuredBody grain =
      measure_bodies(reading_of(Outline{{10, 10}, {110, 10}, {110, 60}, {10, 60}}), conditions)[0];
  CHECK(within(grain.width_um.value, 30.0, kRounding));
  CHECK(within(grain.area_um2->value, 50.0 * 30.0, 1e-6));
  const MeasuredBody fibre = measure_bodies(reading_of({}, BodyKind::fibre), conditions)[0];
  CHECK(within(fibre.width_um.value, 12.0, kRounding));
  // A band at 45 degrees in the picture, 20 pixels wide, is x + y = c and c + 20 sqrt(2); on the slide x / f_x + y /
  // f_y is. The distance of two such lines is their difference over the hypotenuse of 1/f_x and 1/f_y.
  SpecimenReading slanting = reading_of({}, BodyKind::fibre);
  const double half = 20.0 / std::sqrt(2.0);
  for (std::size_t i = 0; i < slanting.bodies[0].widths.size(); ++i) {
    const double x = 300.0 + static_cast<double>(i), y = 500.0 - static_cast<double>(i);
    slanting.bodies[0].widths[i] = {{x + half, y + half}, {x, y}, true};
  }
  const double width = 20.0 * std::sqrt(2.0) / std::hypot(1.0 / 0.5, 1.0 / 0.6);
  CHECK(within(measure_bodies(slanting, conditions)[0].width_um.value, width, kRounding));
}

TEST_CASE("a known distortion gives every place its own factor, the mean over the frame unchanged") {
  MeasurementConditions conditions = half_micrometre_pixels();
  conditions.scale.kappa = 0.02;
  const auto side = [&](double x, double y) {
    return measure_bodies(reading_of(Outline{{x, y}, {x + 4, y}, {x + 4, y + 4}, {x, y + 4}}), conditions)[0]
        .width_um.value;
  };
  // In the middle the picture is smaller than at the mean, so a pixel is worth more there; least along y, where a frame
  // of 1000 by 800 reaches less far out: 1 - kappa (x^2 + 3 y^2) / R^2, by Simpson's rule over the frame (exact).
  double mean = 0.0;
  for (const double x : {-500.0, 0.0, 500.0})
    for (const double y : {-400.0, 0.0, 400.0})
      mean += (x == 0.0 ? 4.0 : 1.0) * (y == 0.0 ? 4.0 : 1.0) / 36.0 *
              (1.0 - 0.02 * (x * x + 3.0 * y * y) / (500.0 * 500.0 + 400.0 * 400.0));
  CHECK(within(side(497.5, 397.5) / 2.0, 1.0 / mean, 1e-5));
  CHECK(side(2, 2) < side(497.5, 397.5));
}

TEST_CASE("under a known distortion the factor is the mean over the measuring area, where there is one") {
  MeasurementConditions conditions = half_micrometre_pixels();
  conditions.scale.kappa = 0.02;
  // So small an area, of which the factor is said to be the mean, that its middle has it.
  conditions.scale.area = MeasuringArea{698.0, 198.0, 3.0, 3.0};
  const auto side = [&](double x, double y) {
    return measure_bodies(reading_of(Outline{{x, y}, {x + 4, y}, {x + 4, y + 4}, {x, y + 4}}), conditions)[0];
  };
  CHECK(within(std::sqrt(side(697.5, 197.5).area_um2->value), 2.0, 1e-4));
  CHECK(side(497.5, 397.5).area_um2->value > 4.01);
}

TEST_CASE("the edge's shift and its uncertainty count twice in a width and are shared") {
  MeasurementConditions conditions = half_micrometre_pixels();
  const MeasuredValue plain = measure_bodies(reading_of({}, BodyKind::fibre), conditions)[0].width_um;
  conditions.edge_shift = Micrometres{-0.1};
  conditions.edge_uncertainty = Micrometres{0.2};
  const MeasuredValue shifted = measure_bodies(reading_of({}, BodyKind::fibre), conditions)[0].width_um;
  CHECK(within(shifted.value, plain.value - 0.2, kRounding));
  CHECK(within(shifted.own, plain.own, kRounding));
  CHECK(within(shifted.shared, 0.4, kRounding));
  conditions.edge_uncertainty.reset();
  const MeasuredBody unstated = measure_bodies(reading_of({}, BodyKind::fibre), conditions)[0];
  CHECK(std::find(unstated.notes.begin(), unstated.notes.end(), "edge-not-stated") != unstated.notes.end());
}

TEST_CASE("an unknown curve of grey values is in the budget, a known one is not") {
  MeasurementConditions conditions = half_micrometre_pixels();
  CHECK(within(measure_bodies(reading_of({}, BodyKind::fibre), conditions)[0].width_um.shared, 0.0, kRounding));
  conditions.grey = GreyCurve::unknown;
  CHECK(measure_bodies(reading_of({}, BodyKind::fibre), conditions)[0].width_um.shared > 0.05);
}

TEST_CASE("the convention of an opaque edge is 0.11 lambda over NA, rectangular") {
  CHECK(within(edge_convention_uncertainty(0.25, Micrometres{0.55}).value, 0.11 * 0.55 / 0.25 / std::sqrt(3.0),
               kRounding));
}

TEST_CASE("the coverage factor of an even error between limits") {
  CHECK(within(expanded_with_limits(1.0, 0.0), 2.0, kRounding));
  // 95.45 % of an even distribution of half width a lie within 0.9545 a; its standard uncertainty is a / sqrt(3).
  CHECK(within(expanded_with_limits(0.0, 1.0), 0.9544997 * std::sqrt(3.0), 1e-4));
  // Counting draws: a normal error of 1 and limits of 2 sqrt(3).
  std::mt19937_64 random(14);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> even(-2.0 * std::sqrt(3.0), 2.0 * std::sqrt(3.0));
  int covered = 0;
  for (int i = 0; i < 200000; ++i) covered += std::abs(normal(random) + even(random)) <= expanded_with_limits(1.0, 2.0);
  CHECK(within(covered / 200000.0, kCoverageProbability, 0.002));
}

TEST_CASE("what all bodies share does not shrink with their number") {
  for (const int count : {4, 400}) {
    std::vector<SizedBody> bodies;
    for (int i = 0; i < count; ++i) bodies.push_back({20.0 + (i % 2 == 0 ? 1.0 : -1.0), 1.0, 0.0, 0.01, 0.3});
    const SizeDistribution found = distribution_of(bodies);
    CHECK(within(found.shared, 0.3, kRounding));
    CHECK(within(found.sampling, found.sd / std::sqrt(count), kRounding));
    CHECK(within(found.expanded, 2.0 * std::hypot(found.sampling, 0.3), kRounding));
  }
}

TEST_CASE("quantiles, classes and the number of bodies needed") {
  std::vector<SizedBody> bodies;
  for (int i = 1; i <= 99; ++i) bodies.push_back({static_cast<double>(i), 1.0, i <= 50 ? 0.0 : 1.0, 0.0, 0.0});
  DistributionOptions options;
  options.class_width = 10.0;
  options.wanted = 0.05;
  const SizeDistribution found = distribution_of(bodies, options);
  CHECK(within(found.mean, 50.0, kRounding));
  CHECK(within(found.median, 50.0, kRounding));
  CHECK(within(found.d10, 10.4, kRounding));  // middles of the steps lie at (i - 1/2)/99
  CHECK(within(found.amount_median, 75.0, kRounding));
  REQUIRE(found.classes.size() == 10);
  CHECK(found.classes[0].count == 9.0);
  CHECK(found.classes[9].count == 10.0);
  CHECK(within(found.sd, std::sqrt(99.0 * 100.0 / 12.0), 1e-9));  // of 1 .. n: n (n + 1) / 12
  // t of 98 degrees of freedom, 95 %: 1.9845 (any table).
  REQUIRE(found.needed);
  CHECK(*found.needed == static_cast<int>(std::ceil(std::pow(1.9845 * found.variation / 0.05, 2))));
  CHECK(distribution_of({}).count == 0);
}

TEST_CASE("the frame's weight undoes that large grains are cut more often (simulation)") {
  // Centres at random in a plane, half of the grains 20, half 80 wide; those within a frame of 200 by 150 are kept.
  std::mt19937_64 random(13322);
  const auto uniform = [&] { return static_cast<double>(random() >> 11) * 0x1.0p-53; };
  SpecimenReading reading;
  reading.width = 200, reading.height = 150;
  int large = 0, kept = 0;
  for (int i = 0; i < 60000; ++i) {
    const double half = i % 2 == 0 ? 10.0 : 40.0, x = -50 + 300 * uniform(), y = -50 + 250 * uniform();
    if (x - half < 0 || y - half < 0 || x + half > 200 || y + half > 150) continue;
    Body body;
    body.outline = {{x - half, y - half}, {x + half, y - half}, {x + half, y + half}, {x - half, y + half}};
    reading.bodies.push_back(body);
    ++kept;
    large += half > 20.0;
  }
  MeasurementConditions conditions = half_micrometre_pixels();
  double all = 0.0, large_weight = 0.0;
  for (const MeasuredBody& body : measure_bodies(reading, conditions)) {
    all += body.weight;
    if (body.width_um.value > 20.0) large_weight += body.weight;
  }
  CHECK(static_cast<double>(large) / kept < 0.35);  // unweighted, the large ones seem rare
  CHECK(within(large_weight / all, 0.5, 0.02));     // some 3500 large ones: 0.008 by chance
}

TEST_CASE("the half level of a narrow bar is off by what the table of the method says") {
  // Bias in blurs: +0.77 at two blurs (0.72 at 2.1, by closed form), +0.33 at three, +0.11 at four, +0.03 at five.
  for (const auto& [width, bias] : {std::pair{2.1, 0.72}, {3.0, 0.33}, {4.0, 0.11}, {5.0, 0.03}})
    CHECK(within(bar_width(width + bias, 1.0), width, 0.03));
  CHECK(bar_width(2.5, 1.0) == 0.0);
  // A blur comes back from what the bar looks like.
  CHECK(within(blur_of_bar(3.0 + 0.33, apparent_blur(3.0, 1.0)), 1.0, 0.02));
  // Far from the edge's own blur a disc is a straight edge with a bend: s^2 / (2 R).
  CHECK(within(disc_correction(20.0, 1.0), 0.5 / 20.0, 1e-9));
  CHECK(within(disc_correction(7.9, 1.0), 0.5 / 7.9, 2e-3));
}
