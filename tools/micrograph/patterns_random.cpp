#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "curves.h"
#include "lines.h"
#include "patterns.h"

namespace micrograph {
namespace {

constexpr double kPi = std::numbers::pi;

double smooth_noise(std::uint64_t seed, double x, double y, int octave) {
  const int i = static_cast<int>(std::floor(x));
  const int j = static_cast<int>(std::floor(y));
  const auto ease = [](double t) { return t * t * (3.0 - 2.0 * t); };
  const double u = ease(x - i);
  const double v = ease(y - j);
  const double top = (1.0 - u) * cell_number(seed, i, j, octave) + u * cell_number(seed, i + 1, j, octave);
  const double bottom = (1.0 - u) * cell_number(seed, i, j + 1, octave) + u * cell_number(seed, i + 1, j + 1, octave);
  return (1.0 - v) * top + v * bottom;
}

struct Grain {
  double x, y, long_axis, short_axis, angle, amplitude;
};

void draw_grain(const Grain& grain, double soft, Plane& light) {
  const double reach = grain.long_axis + 5.0 * soft;
  const double c = std::cos(grain.angle);
  const double s = std::sin(grain.angle);
  const int y1 = std::max(0, static_cast<int>(grain.y - reach));
  const int y2 = std::min(light.height - 1, static_cast<int>(grain.y + reach));
  const int x1 = std::max(0, static_cast<int>(grain.x - reach));
  const int x2 = std::min(light.width - 1, static_cast<int>(grain.x + reach));
  for (int y = y1; y <= y2; ++y) {
    for (int x = x1; x <= x2; ++x) {
      const double u = ((x - grain.x) * c + (y - grain.y) * s) / grain.long_axis;
      const double v = ((y - grain.y) * c - (x - grain.x) * s) / grain.short_axis;
      const double inside = (1.0 - std::hypot(u, v)) * grain.short_axis;
      light.row(y)[x] *= static_cast<float>(1.0 - grain.amplitude * soft_step(inside, soft));
    }
  }
}

}  // namespace

Cover cloud_cover(Random& random) {
  const std::uint64_t seed = random.bits();
  const double size = random.log_uniform(60.0, 500.0);
  const double fall = random.uniform(0.45, 0.75);  // of the amplitude from octave to octave; 1/2 is 1/f
  return [=](double x, double y) {
    double sum = 0.0;
    double weight = 1.0;
    double total = 0.0;
    double scale = 1.0 / size;
    for (int octave = 0; octave < 7; ++octave) {
      sum += weight * smooth_noise(seed, x * scale, y * scale, octave);
      total += weight;
      weight *= fall;
      scale *= 2.0;
    }
    return std::clamp(2.0 * sum / total - 0.5, 0.0, 1.0);
  };
}

void draw_white_noise(Random& random, Plane& light) {
  const double strength = random.log_uniform(0.05, 0.6);
  for (float& value : light.data) value *= static_cast<float>(std::clamp(0.5 + strength * random.normal(), 0.0, 1.0));
}

void draw_grains(const Scene& scene, Random& random, Plane& light) {
  const int count = static_cast<int>(random.log_uniform(20.0, 1200.0));
  const double size = std::sqrt(0.12 * scene.width * scene.height / count);
  for (int i = 0; i < count; ++i) {
    const double radius = size * random.log_uniform(0.35, 1.3);
    draw_grain({random.uniform(0.0, scene.width), random.uniform(0.0, scene.height), radius,
                radius * random.uniform(0.4, 1.0), random.uniform(0.0, kPi), random.uniform(0.3, 0.9)},
               scene.optics.gaussian_px, light);
  }
}

void draw_text_page(const Scene& scene, Random& random, Plane& light) {
  static constexpr std::string_view kLetters = "ABCDEFGHIJKLMNOPRSTUVWXYZ0123456789.-";
  const Raster raster(scene, 1);
  Lettering lettering;
  lettering.angle = 0.03 * random.normal();
  lettering.height = random.uniform(14.0, 36.0);
  lettering.stroke = lettering.height * random.uniform(0.09, 0.18);
  lettering.amplitude = random.uniform(0.5, 1.0);
  const double leading = lettering.height * random.uniform(1.5, 2.4);
  Painters painters;
  for (double y = random.uniform(0.0, leading); y < scene.height; y += leading) {
    std::string text;
    const int letters = static_cast<int>(random.uniform(0.3, 0.95) * scene.width / lettering.height);
    for (int i = 0; i < letters; ++i) {
      text += random.chance(0.17) ? ' ' : kLetters[static_cast<std::size_t>(random.integer(0, 36))];
    }
    lettering.at = {0.03 * scene.width, y};
    draw_text(scene, raster, text, lettering, painters, light);
  }
}

void draw_edges(const Scene& scene, Random& random, Plane& light) {
  const int count = random.integer(1, 6);
  const double soft = scene.optics.gaussian_px;
  for (int i = 0; i < count; ++i) {
    const double angle = random.uniform(0.0, 2.0 * kPi);
    const double c = std::cos(angle);
    const double s = std::sin(angle);
    const double offset = c * scene.width * random.uniform(0.15, 0.85) + s * scene.height * random.uniform(0.15, 0.85);
    const double amplitude = random.uniform(0.2, 0.8);
    for (int y = 0; y < light.height; ++y) {
      for (int x = 0; x < light.width; ++x) {
        light.row(y)[x] *= static_cast<float>(1.0 - amplitude * soft_step(x * c + y * s - offset, soft));
      }
    }
  }
}

}  // namespace micrograph
