#include "light.h"

#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include "curves.h"
#include "micrograph/random.h"

namespace micrograph {
namespace {

/// Slow unevenness: a few plane waves of random direction, cos(kx x + ky y + phase) by the sum of angles from values
/// along one row and one column.
class Mottle {
 public:
  explicit Mottle(const Scene& scene) : strength_(scene.shading.mottle * std::sqrt(2.0 / kWaves)) {
    if (strength_ == 0.0) return;
    Random random(scene.seed, 0x3077e);
    for (int i = 0; i < kWaves; ++i) {
      const double k = 2.0 * std::numbers::pi / (scene.shading.mottle_px * random.uniform(0.7, 3.0));
      const double angle = random.uniform(0.0, 2.0 * std::numbers::pi);
      const double phase = random.uniform(0.0, 2.0 * std::numbers::pi);
      for (int x = 0; x < scene.width; ++x) columns_.push_back(std::polar(1.0, k * std::cos(angle) * x));
      for (int y = 0; y < scene.height; ++y) rows_.push_back(std::polar(1.0, k * std::sin(angle) * y + phase));
    }
    width_ = static_cast<std::size_t>(scene.width);
    height_ = static_cast<std::size_t>(scene.height);
  }

  double at(int x, int y) const {
    if (strength_ == 0.0) return 0.0;
    double sum = 0.0;
    for (std::size_t i = 0; i < kWaves; ++i) {
      const std::complex<double>& c = columns_[i * width_ + x];
      const std::complex<double>& r = rows_[i * height_ + y];
      sum += c.real() * r.real() - c.imag() * r.imag();
    }
    return strength_ * sum;
  }

 private:
  static constexpr int kWaves = 10;
  double strength_;
  std::size_t width_ = 0, height_ = 0;
  std::vector<std::complex<double>> columns_, rows_;
};

double shading_at(const Scene& scene, const Mottle& mottle, int x, int y) {
  const Shading& s = scene.shading;
  const double nx = (x - 0.5 * (scene.width - 1)) / (0.5 * scene.width);
  const double ny = (y - 0.5 * (scene.height - 1)) / (0.5 * scene.height);
  const double r2 = 0.5 * (nx * nx + ny * ny);
  const double smooth = 1.0 + s.linear_x * nx + s.linear_y * ny + s.quadratic * r2 + s.quadratic_xy * nx * ny;
  const double vignette = 1.0 - s.vignette * r2 * r2;
  return smooth * vignette * (1.0 + mottle.at(x, y));
}

double inside_field(const RoundField& field, int x, int y) {
  return soft_step(field.radius_px - std::hypot(x - field.x, y - field.y), field.softness_px);
}

}  // namespace

void illuminate(const Scene& scene, Plane& light) {
  const Mottle mottle(scene);
  const Ground& ground = scene.ground;
  for (int y = 0; y < scene.height; ++y) {
    float* row = light.row(y);
    for (int x = 0; x < scene.width; ++x) {
      const double through = static_cast<double>(row[x]);
      const double covered = ground.polarity == Polarity::dark_on_bright ? 1.0 - through : through;
      double value = ground.level * (1.0 - ground.contrast * covered) * shading_at(scene, mottle, x, y);
      if (scene.field.on) {
        const double inside = inside_field(scene.field, x, y);
        value = scene.field.outside + (value - scene.field.outside) * inside;
      }
      row[x] = static_cast<float>(value);
    }
  }
}

}  // namespace micrograph
