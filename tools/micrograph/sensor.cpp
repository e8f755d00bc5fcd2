#include "sensor.h"

#include <algorithm>
#include <cmath>

#include "filters.h"
#include "micrograph/random.h"

namespace micrograph {
namespace {

void add_noise(const Scene& scene, Samples& samples) {
  Random random(scene.seed, 0x4015e);
  const double read = scene.sensor.read_noise / 255.0;
  const double full_well = scene.sensor.full_well;
  for (float& sample : samples.data) {
    double value = static_cast<double>(sample);
    if (full_well > 0.0) value = random.poisson(value * full_well) / full_well;
    if (read > 0.0) value += read * random.normal();
    sample = static_cast<float>(value);
  }
}

void clip(Samples& samples) {
  for (float& sample : samples.data) sample = std::clamp(sample, 0.0F, 1.0F);
}

void apply_gamma(double gamma, Samples& samples) {
  const float power = static_cast<float>(1.0 / gamma);
  for (float& sample : samples.data) sample = std::pow(std::max(sample, 0.0F), power);
}

}  // namespace

void expose(const Scene& scene, Samples& samples) {
  if (scene.colour.mosaic) keep_mosaic(samples);
  add_noise(scene, samples);
  clip(samples);
  if (scene.colour.mosaic) fill_mosaic(samples);
  if (scene.sensor.gamma != 1.0) apply_gamma(scene.sensor.gamma, samples);
  if (scene.sensor.sharpen > 0.0) sharpen(scene.sensor.sharpen, scene.sensor.sharpen_px, samples);
  if (scene.sensor.resample != 1.0) samples = resample(samples, scene.sensor.resample);
}

Image quantise(const Scene& scene, const Samples& samples) {
  Image image{samples.width, samples.height, samples.channels, scene.sensor.bits, {}};
  const float top = static_cast<float>((1 << scene.sensor.bits) - 1);
  image.samples.resize(samples.data.size());
  for (std::size_t i = 0; i < samples.data.size(); ++i) {
    image.samples[i] = static_cast<std::uint16_t>(std::clamp(samples.data[i], 0.0F, 1.0F) * top + 0.5F);
  }
  return image;
}

std::vector<std::uint8_t> grey8(const Image& image) {
  std::vector<std::uint8_t> grey(image.pixels());
  const double to_byte = 255.0 / ((1 << image.bits) - 1);
  for (std::size_t i = 0; i < grey.size(); ++i) {
    double value = image.samples[i * image.channels];
    if (image.channels == 3) {
      value = 0.299 * value + 0.587 * image.samples[3 * i + 1] + 0.114 * image.samples[3 * i + 2];
    }
    grey[i] = static_cast<std::uint8_t>(value * to_byte + 0.5);
  }
  return grey;
}

}  // namespace micrograph
