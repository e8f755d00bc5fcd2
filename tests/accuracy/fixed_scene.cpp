#include "fixed_scene.h"

#include "micrograph/render.h"
#include "sensor.h"

namespace accuracy {

micrograph::Scene fixed_scene(double pitch_px) {
  micrograph::Scene scene;
  scene.width = 800;
  scene.height = 600;
  scene.name = "fixed";
  scene.ground.level = 0.75;
  scene.ground.contrast = 0.6;
  scene.optics.gaussian_px = 1.2;
  scene.sensor.full_well = 8000.0;
  scene.sensor.read_noise = 1.0;
  micrograph::LineScale scale;
  scale.angle_deg = 3.7;  // every line crosses many pixel columns
  scale.pitch_px = pitch_px;
  scale.line_width_px = 0.3 * pitch_px;
  scale.short_px = 180.0;
  scale.medium_px = 260.0;
  scale.long_px = 340.0;
  scale.count = static_cast<int>(640.0 / pitch_px) + 1;
  scale.origin_x = 85.3;
  scale.origin_y = 120.7;
  scene.scales.push_back(scale);
  return scene;
}

FixedScene::FixedScene(const micrograph::Scene& scene) : scene_(scene), light_(micrograph::render_clean(scene)) {}

micrograph::Image FixedScene::with_noise(std::uint64_t seed) const {
  micrograph::Scene noisy = scene_;
  noisy.seed = seed;
  micrograph::Samples samples{noisy.width, noisy.height, noisy.colour.channels, light_};
  micrograph::expose(noisy, samples);
  return micrograph::quantise(noisy, samples);
}

}  // namespace accuracy
