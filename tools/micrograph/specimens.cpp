#include "micrograph/specimen.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace micrograph {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;

constexpr std::array<std::string_view, 15> kNames = {
    "fibres",          "rimmed_fibres", "bright_fibres",  "fibre_mat",     "rimmed_mat",
    "rough_fibres",    "grains",        "angular_grains", "rimmed_grains", "bright_grains",
    "touching_grains", "soft",          "noisy",          "dirty",         "marked"};
static_assert(kNames.size() == static_cast<std::size_t>(SpecimenClass::marked) + 1);

double random_width(Random& random) { return random.log_uniform(14.0, 60.0); }

/// Fibres side by side in lanes of the frame, tilted together, so that none touches another.
void lay_apart(Scene& scene, int count, Random& random) {
  const double tilt = random.uniform(-25.0, 25.0);
  const double lane = scene.height / (count * std::cos(tilt * kDegree));
  for (int i = 0; i < count; ++i) {
    const double width = std::min(random_width(random), 0.35 * lane);
    const double length = random.chance(0.3) ? 2200.0 : random.uniform(500.0, 900.0);
    const double bend = random.uniform(-1.0, 1.0) * std::min(0.0007, 0.35 * lane * 8.0 / (length * length) * 0.5);
    const double y = (i + 0.5) * scene.height / count;
    const double x = length > 2000.0 ? 0.5 * scene.width : random.uniform(0.4, 0.6) * scene.width;
    scene.bodies.push_back(arc_fibre(x, y, tilt + random.uniform(-2.0, 2.0), length, width, bend));
  }
}

void lay_mat(Scene& scene, Random& random) {
  const double first = random.uniform(0.0, 180.0);
  for (int i = 0; i < 5; ++i) {
    // Any two differ by 15 degrees or more in direction.
    const double angle = first + 36.0 * i + random.uniform(-10.0, 10.0);
    const double x = random.uniform(0.3, 0.7) * scene.width, y = random.uniform(0.3, 0.7) * scene.height;
    const double length = random.chance(0.5) ? 2600.0 : random.uniform(700.0, 1000.0);
    const double bend = random.chance(0.5) ? 0.0 : random.uniform(-0.0005, 0.0005);
    scene.bodies.push_back(arc_fibre(x, y, angle, length, random.log_uniform(14.0, 40.0), bend));
  }
}

void make_rimmed(Scene& scene, Random& random) {
  for (Body& body : scene.bodies) {
    body.rim_px = random.uniform(2.5, 6.0);
    body.middle = random.uniform(-0.35, -0.1);
  }
  scene.ground.level = 0.65;
}

Body polygon_grain(double x, double y, double radius, Random& random) {
  const int corners = random.integer(4, 7);
  Body body;
  const double turn = random.uniform(0.0, 360.0);
  std::vector<double> corner;
  for (int i = 0; i < corners; ++i)
    corner.push_back((turn + 360.0 * (i + random.uniform(-0.2, 0.2)) / corners) * kDegree);
  for (int i = 0; i < corners; ++i) {
    const double a = corner[i], b = corner[(i + 1) % corners];
    for (int k = 0; k < 20; ++k) {
      const double share = k / 20.0;
      body.points.push_back(x + radius * (std::cos(a) + share * (std::cos(b) - std::cos(a))));
      body.points.push_back(y + radius * (std::sin(a) + share * (std::sin(b) - std::sin(a))));
    }
  }
  return body;
}

/// One in the middle of each field of a grid, some missing.
void lay_grains(Scene& scene, bool angular, Random& random) {
  constexpr int kColumns = 6, kRows = 4;
  const double wide = scene.width / static_cast<double>(kColumns), high = scene.height / static_cast<double>(kRows);
  for (int i = 0; i < kColumns * kRows; ++i) {
    if (random.chance(0.15)) continue;
    const double radius = random.log_uniform(14.0, 0.38 * std::min(wide, high));
    const double x = (i % kColumns + 0.5) * wide + random.uniform(-0.06, 0.06) * wide;
    const double y = (i / kColumns + 0.5) * high + random.uniform(-0.06, 0.06) * high;
    const double kind = random.uniform();
    if (angular)
      scene.bodies.push_back(polygon_grain(x, y, radius, random));
    else if (kind < 0.35)
      scene.bodies.push_back(ellipse_grain(x, y, radius, radius, 0.0));
    else if (kind < 0.7)
      scene.bodies.push_back(
          ellipse_grain(x, y, radius, radius * random.uniform(0.5, 0.95), random.uniform(0.0, 180.0)));
    else
      scene.bodies.push_back(blob_grain(x, y, 0.85 * radius, 0.06, random));
  }
}

void lay_touching(Scene& scene, Random& random) {
  constexpr int kColumns = 4, kRows = 3;
  for (int i = 0; i < kColumns * kRows; ++i) {
    const double x = (i % kColumns + 0.5) * scene.width / kColumns, y = (i / kColumns + 0.5) * scene.height / kRows;
    const double r = random.uniform(22.0, 42.0), other = r * random.uniform(0.7, 1.0);
    const double angle = random.uniform(0.0, 360.0) * kDegree, apart = 0.94 * (r + other);
    const double share = other / (r + other);
    scene.bodies.push_back(
        ellipse_grain(x - share * apart * std::cos(angle), y - share * apart * std::sin(angle), r, r, 0.0));
    scene.bodies.push_back(ellipse_grain(x + (1.0 - share) * apart * std::cos(angle),
                                         y + (1.0 - share) * apart * std::sin(angle), other, other, 0.0));
  }
}

void make_bright(Scene& scene, Random& random) {
  scene.ground.polarity = Polarity::bright_on_dark;
  scene.ground.contrast = random.uniform(0.6, 0.95);
}

void vary(Scene& scene, Random& random) {
  scene.ground.contrast = random.uniform(0.35, 0.7);
  scene.optics.gaussian_px = random.uniform(0.8, 1.6);
  scene.sensor.read_noise = random.uniform(1.0, 4.0);
  if (random.chance(0.5)) scene.shading.linear_x = random.uniform(-0.1, 0.1);
  if (random.chance(0.5)) scene.shading.vignette = random.uniform(0.0, 0.2);
}

void make_dirty(Scene& scene, Random& random) {
  scene.clutter.dirt = random.integer(15, 40);
  scene.clutter.strength = 0.5;
  scene.shading = {random.uniform(-0.2, 0.2),
                   random.uniform(-0.2, 0.2),
                   random.uniform(-0.15, 0.05),
                   0.05,
                   random.uniform(0.0, 0.3),
                   0.015,
                   200.0};
}

void fill(Scene& scene, SpecimenClass specimen, Random& random) {
  switch (specimen) {
    case SpecimenClass::fibre_mat:
    case SpecimenClass::rimmed_mat:
      lay_mat(scene, random);
      break;
    case SpecimenClass::grains:
    case SpecimenClass::angular_grains:
    case SpecimenClass::rimmed_grains:
    case SpecimenClass::bright_grains:
      lay_grains(scene, specimen == SpecimenClass::angular_grains, random);
      break;
    case SpecimenClass::touching_grains:
      lay_touching(scene, random);
      break;
    default:
      lay_apart(scene, random.integer(2, 5), random);
  }
}

void change(Scene& scene, SpecimenClass specimen, Random& random) {
  if (specimen == SpecimenClass::rimmed_fibres || specimen == SpecimenClass::rimmed_mat ||
      specimen == SpecimenClass::rimmed_grains)
    make_rimmed(scene, random);
  if (specimen == SpecimenClass::bright_fibres || specimen == SpecimenClass::bright_grains) make_bright(scene, random);
  if (specimen == SpecimenClass::rough_fibres)
    for (Body& body : scene.bodies) {
      body.taper = random.uniform(-0.3, 0.3);
      body.scales = random.uniform(0.0, 0.06);
      body.scales_period_px = random.uniform(2.0, 4.0) * body.width_px;
    }
  if (specimen == SpecimenClass::soft) scene.optics.gaussian_px = random.uniform(2.0, 3.4);
  if (specimen == SpecimenClass::noisy) scene.sensor.read_noise = random.uniform(8.0, 20.0);
  if (specimen == SpecimenClass::dirty) make_dirty(scene, random);
  if (specimen == SpecimenClass::marked) scene.clutter.texts = 2, scene.clutter.bars = 2;
}

}  // namespace

std::vector<SpecimenClass> all_specimen_classes() {
  std::vector<SpecimenClass> all;
  for (std::size_t i = 0; i < kNames.size(); ++i) all.push_back(static_cast<SpecimenClass>(i));
  return all;
}

std::string_view name_of(SpecimenClass specimen) { return kNames[static_cast<std::size_t>(specimen)]; }

std::optional<SpecimenClass> specimen_class_named(std::string_view name) {
  for (std::size_t i = 0; i < kNames.size(); ++i)
    if (kNames[i] == name) return static_cast<SpecimenClass>(i);
  return std::nullopt;
}

Scene empty_slide(std::uint64_t seed) {
  Scene scene;
  scene.seed = seed;
  scene.ground.contrast = 0.5;
  scene.sensor.read_noise = 3.0;
  return scene;
}

Body arc_fibre(double x, double y, double angle_deg, double length_px, double width_px, double bend) {
  Body body;
  body.fibre = true;
  body.width_px = width_px;
  // Straight pieces of an arc lie beside it by the square of their length times the bend over eight: 1e-3 px here.
  const int pieces = std::max(1, static_cast<int>(length_px * std::sqrt(std::abs(bend) / 8e-3)));
  for (int i = 0; i <= pieces; ++i) {
    const double t = length_px * (static_cast<double>(i) / pieces - 0.5);
    const double u = bend == 0.0 ? t : std::sin(bend * t) / bend,
                 v = bend == 0.0 ? 0.0 : (1.0 - std::cos(bend * t)) / bend;
    const double c = std::cos(angle_deg * kDegree), s = std::sin(angle_deg * kDegree);
    body.points.push_back(x + u * c - v * s);
    body.points.push_back(y + u * s + v * c);
  }
  return body;
}

Body ellipse_grain(double x, double y, double a, double b, double angle_deg, int points) {
  Body body;
  const double c = std::cos(angle_deg * kDegree), s = std::sin(angle_deg * kDegree);
  for (int i = 0; i < points; ++i) {
    const double t = 2.0 * std::numbers::pi * i / points, u = a * std::cos(t), v = b * std::sin(t);
    body.points.push_back(x + u * c - v * s);
    body.points.push_back(y + u * s + v * c);
  }
  return body;
}

Body blob_grain(double x, double y, double radius, double strength, Random& random) {
  Body body;
  double wave[4], phase[4];
  for (int k = 0; k < 4; ++k) wave[k] = strength * random.normal() / (k + 1), phase[k] = random.uniform(0.0, 6.28);
  for (int i = 0; i < 720; ++i) {
    const double t = 2.0 * std::numbers::pi * i / 720;
    double r = 1.0;
    for (int k = 0; k < 4; ++k) r += wave[k] * std::cos((k + 2) * t + phase[k]);
    body.points.push_back(x + radius * r * std::cos(t));
    body.points.push_back(y + radius * r * std::sin(t));
  }
  return body;
}

Scene random_specimen(SpecimenClass specimen, std::uint64_t seed) {
  Random random(seed, 0x5bec + static_cast<std::uint64_t>(specimen));
  Scene scene = empty_slide(seed);
  scene.name = name_of(specimen);
  vary(scene, random);
  fill(scene, specimen, random);
  change(scene, specimen, random);
  return scene;
}

}  // namespace micrograph
