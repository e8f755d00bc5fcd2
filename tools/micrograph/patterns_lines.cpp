#include <algorithm>
#include <cmath>
#include <numbers>

#include "curves.h"
#include "patterns.h"

namespace micrograph {
namespace {

constexpr double kPi = std::numbers::pi;

struct Stripe {
  double middle, half;
};

/// Middles and half widths of stripes from -extent to +extent; never evenly spaced over five of them.
std::vector<Stripe> make_stripes(NoScale kind, double extent, Random& random) {
  std::vector<Stripe> stripes;
  if (kind == NoScale::uneven_stripes) {
    const int count = random.integer(3, 14);
    for (int i = 0; i < count; ++i) stripes.push_back({random.uniform(-extent, extent), random.log_uniform(1.0, 20.0)});
    std::sort(stripes.begin(), stripes.end(), [](const Stripe& a, const Stripe& b) { return a.middle < b.middle; });
    return stripes;
  }
  if (kind == NoScale::chirp) {
    const double first = random.log_uniform(6.0, 40.0);
    const double ratio = random.log_uniform(1.6, 5.0);  // last spacing over first
    const double width = random.uniform(0.1, 0.5);
    double spacing = first;
    for (double u = -extent; u < extent; u += spacing) {
      spacing = first * (1.0 + (ratio - 1.0) * (u + extent) / (2.0 * extent));
      stripes.push_back({u, 0.5 * width * spacing});
    }
    return stripes;
  }
  const double pitch = random.log_uniform(16.0, 90.0);
  const double half = 0.5 * pitch * random.uniform(0.06, 0.16);
  const int groups = static_cast<int>(2.0 * extent / pitch);
  for (int i = 0; i < groups; ++i) {
    const double apart = pitch * (0.25 + 0.5 * i / groups);  // within the pair; the groups keep their pitch
    const double middle = -extent + i * pitch;
    stripes.push_back({middle - 0.5 * apart, half});
    stripes.push_back({middle + 0.5 * apart, half});
  }
  std::sort(stripes.begin(), stripes.end(), [](const Stripe& a, const Stripe& b) { return a.middle < b.middle; });
  return stripes;
}

}  // namespace

Cover stripes_cover(const Scene& scene, Random& random) {
  const double angle = random.uniform(-0.5 * kPi, 0.5 * kPi);
  const double extent = 0.5 * std::hypot(scene.width, scene.height);
  const std::vector<Stripe> stripes = make_stripes(scene.no_scale, extent, random);
  const double x0 = 0.5 * scene.width;
  const double y0 = 0.5 * scene.height;
  const double soft = scene.optics.gaussian_px;
  return [=, c = std::cos(angle), s = std::sin(angle)](double x, double y) {
    const double u = (x - x0) * c + (y - y0) * s;
    double sum = 0.0;
    const auto from = std::lower_bound(stripes.begin(), stripes.end(), u - 60.0,
                                       [](const Stripe& stripe, double value) { return stripe.middle < value; });
    for (auto stripe = from; stripe != stripes.end() && stripe->middle < u + 60.0; ++stripe) {
      const double d = u - stripe->middle;
      if (std::abs(d) > stripe->half + 6.0 * soft) continue;
      sum += soft_step(d + stripe->half, soft) - soft_step(d - stripe->half, soft);
    }
    return std::min(sum, 1.0);
  };
}

Cover round_cover(const Scene& scene, Random& random) {
  const double x0 = scene.width * random.uniform(0.2, 0.8);
  const double y0 = scene.height * random.uniform(0.2, 0.8);
  const double soft = scene.optics.gaussian_px;
  if (scene.no_scale == NoScale::star) {
    const int spokes = random.integer(6, 60);
    const double turn = random.uniform(0.0, kPi);
    const double width = random.uniform(0.2, 0.5);
    return [=](double x, double y) {
      const double r = std::hypot(x - x0, y - y0);
      const double phase = (std::atan2(y - y0, x - x0) + turn) * spokes / (2.0 * kPi);
      const double off = std::abs(phase - std::round(phase)) * 2.0 * kPi / spokes * r;  // along the arc, pixels
      return soft_step(width * kPi / spokes * r - off, soft);
    };
  }
  if (scene.no_scale == NoScale::zone_plate) {
    const double edge = std::hypot(scene.width, scene.height);
    const double finest = random.uniform(5.0, 14.0);  // period at the far corner
    return [=](double x, double y) {
      const double r2 = (x - x0) * (x - x0) + (y - y0) * (y - y0);
      return 0.5 + 0.5 * std::cos(kPi * r2 / (finest * edge));
    };
  }
  const double pitch = random.log_uniform(10.0, 80.0);
  const double half = 0.5 * pitch * random.uniform(0.1, 0.5);
  return [=](double x, double y) {
    const double r = std::hypot(x - x0, y - y0);
    return soft_step(half - std::abs(r - pitch * std::round(r / pitch)), soft);
  };
}

void draw_loose_fibres(const Scene& scene, Random& random, Plane& light) {
  const bool parallel = scene.no_scale == NoScale::parallel_fibres;
  const bool scratches = scene.no_scale == NoScale::scratches;
  const double size = std::hypot(scene.width, scene.height);
  const double common = random.uniform(0.0, 2.0 * kPi);
  const double spread = random.uniform(0.0, 0.06);
  const int count = parallel ? random.integer(12, 70) : random.integer(8, 50);
  const double widest = parallel ? 0.45 * size / count : random.uniform(4.0, 24.0);
  for (int i = 0; i < count; ++i) {
    const double heading = parallel ? common + spread * random.normal() : random.uniform(0.0, 2.0 * kPi);
    Point start{random.uniform(0.0, scene.width), random.uniform(0.0, scene.height)};
    if (parallel) start = {start.x - size * std::cos(heading), start.y - size * std::sin(heading)};
    Curve curve;
    const double length = parallel ? 2.2 * size : size * random.uniform(0.2, 1.2);
    curve.points = wander(start, heading, length, parallel ? 0.001 : scratches ? 0.002 : 0.02, random);
    curve.half_width = scratches ? random.uniform(0.5, 1.8) : random.uniform(0.25, 0.6) * widest;
    curve.softness = random.uniform(0.7, 2.5);
    curve.amplitude = random.uniform(0.3, 0.95);
    curve.core = scratches ? 0.0 : random.uniform(0.0, 0.8);
    draw_curve(curve, light);
  }
}

}  // namespace micrograph
