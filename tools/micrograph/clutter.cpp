#include "clutter.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "curves.h"
#include "micrograph/random.h"

namespace micrograph {
namespace {

constexpr double kTurn = 2.0 * std::numbers::pi;

struct Speck {
  Point at;
  double radius, softness, amplitude, halo;
};

/// Dark with, at times, the bright rim of a thing out of focus.
void draw_speck(const Speck& speck, Plane& light) {
  const double reach = 1.35 * speck.radius + 4.0 * speck.softness + 1.0;
  const int x1 = std::max(0, static_cast<int>(speck.at.x - reach));
  const int x2 = std::min(light.width - 1, static_cast<int>(speck.at.x + reach));
  const int y1 = std::max(0, static_cast<int>(speck.at.y - reach));
  const int y2 = std::min(light.height - 1, static_cast<int>(speck.at.y + reach));
  for (int y = y1; y <= y2; ++y) {
    float* row = light.row(y);
    for (int x = x1; x <= x2; ++x) {
      const double d = std::hypot(x - speck.at.x, y - speck.at.y);
      const double body = soft_step(speck.radius - d, speck.softness);
      const double rim = speck.halo * (soft_step(1.3 * speck.radius - d, speck.softness) - body);
      row[x] *= static_cast<float>(1.0 - speck.amplitude * (body - rim));
    }
  }
}

void draw_dirt(const Scene& scene, Random& random, Plane& light) {
  const double size = std::min(scene.width, scene.height);
  for (int i = 0; i < scene.clutter.dirt; ++i) {
    const bool far = random.chance(0.3);  // dust on the lamp's glass or the sensor's window: wide, faint
    const double radius = size * (far ? random.log_uniform(0.01, 0.045) : random.log_uniform(0.0015, 0.014));
    const double softness = far ? radius * random.uniform(0.2, 0.6) : random.uniform(0.6, 3.0);
    const double amplitude = scene.clutter.strength * (far ? random.uniform(0.04, 0.2) : random.uniform(0.3, 1.0));
    const Point at{random.uniform(0.0, scene.width), random.uniform(0.0, scene.height)};
    const int lobes = far ? 1 : random.integer(1, 4);
    for (int k = 0; k < lobes; ++k) {
      const Point lobe{at.x + radius * random.normal() * (k > 0), at.y + radius * random.normal() * (k > 0)};
      draw_speck({lobe, radius * random.uniform(0.5, 1.0), softness, amplitude, random.chance(0.3) ? 0.4 : 0.0}, light);
    }
  }
}

void draw_hairs(const Scene& scene, Random& random, Plane& light) {
  const double size = std::hypot(scene.width, scene.height);
  for (int i = 0; i < scene.clutter.scratches; ++i) {
    const Point at{random.uniform(0.0, scene.width), random.uniform(0.0, scene.height)};
    Curve scratch;
    scratch.points = wander(at, random.uniform(0.0, kTurn), size * random.uniform(0.1, 0.9), 0.003, random);
    scratch.half_width = random.uniform(0.4, 1.6);
    scratch.softness = random.uniform(0.5, 1.6);
    scratch.amplitude = scene.clutter.strength * random.uniform(0.15, 0.7) * (random.chance(0.3) ? -0.3 : 1.0);
    draw_curve(scratch, light);
  }
  for (int i = 0; i < scene.clutter.fibres; ++i) {
    const Point at{random.uniform(0.0, scene.width), random.uniform(0.0, scene.height)};
    Curve fibre;
    fibre.points = wander(at, random.uniform(0.0, kTurn), size * random.uniform(0.15, 0.8), 0.03, random);
    fibre.half_width = random.uniform(1.5, 9.0);
    fibre.softness = random.uniform(0.8, 4.0);
    fibre.amplitude = scene.clutter.strength * random.uniform(0.3, 0.9);
    fibre.core = random.uniform(0.0, 0.8);
    draw_curve(fibre, light);
  }
}

}  // namespace

void draw_clutter(const Scene& scene, Plane& light) {
  Random random(scene.seed, 0xd127);
  draw_dirt(scene, random, light);
  draw_hairs(scene, random, light);
}

}  // namespace micrograph
