#include "micrograph/render.h"

#include <cmath>
#include <stdexcept>

#include "bodies.h"
#include "clutter.h"
#include "jpeg.h"
#include "light.h"
#include "lines.h"
#include "patterns.h"
#include "sensor.h"

namespace micrograph {
namespace {

Plane channel_light(const Scene& scene, int channel) {
  const Raster raster(scene, channel);
  Plane light(scene.width, scene.height, 1.0F);
  draw_pattern(scene, light);
  if (!scene.scales.empty()) draw_scales(scene, raster, light);
  draw_ring(scene, raster, light);
  draw_bodies(scene, light);
  draw_clutter(scene, light);
  illuminate(scene, light);
  return light;
}

double cast(const Colour& colour, int channel) {
  return channel == 0 ? colour.red : channel == 1 ? colour.green : colour.blue;
}

float on_sensor(const Sensor& sensor, float light, double factor) {
  return static_cast<float>(sensor.exposure * (static_cast<double>(light) * factor + sensor.pedestal));
}

}  // namespace

std::vector<float> render_clean(const Scene& scene) {
  const std::string problem = why_invalid(scene);
  if (!problem.empty()) throw std::invalid_argument(problem);
  const int channels = scene.colour.channels;
  const bool shared = scene.geometry.lateral_red == 0.0 && scene.geometry.lateral_blue == 0.0;
  Plane light = channel_light(scene, channels == 3 && !shared ? 0 : 1);
  if (channels == 1) {
    for (float& value : light.data) value = on_sensor(scene.sensor, value, 1.0);
    return std::move(light.data);
  }
  std::vector<float> clean(light.data.size() * 3);
  for (int c = 0; c < 3; ++c) {
    if (c > 0 && !shared) light = channel_light(scene, c);
    for (std::size_t i = 0; i < light.data.size(); ++i) {
      clean[3 * i + c] = on_sensor(scene.sensor, light.data[i], cast(scene.colour, c));
    }
  }
  return clean;
}

Image develop(const Scene& scene, std::vector<float> clean) {
  Samples samples{scene.width, scene.height, scene.colour.channels, std::move(clean)};
  const std::size_t expected = static_cast<std::size_t>(scene.width) * scene.height * scene.colour.channels;
  if (samples.data.size() != expected) throw std::invalid_argument("the light is not of the scene's size");
  expose(scene, samples);
  draw_marks(scene, samples);
  Image image = quantise(scene, samples);
  if (scene.sensor.jpeg_quality > 0) image = decode_jpeg(encode_jpeg(image, scene.sensor.jpeg_quality));
  return image;
}

Image render(const Scene& scene) { return develop(scene, render_clean(scene)); }

}  // namespace micrograph
