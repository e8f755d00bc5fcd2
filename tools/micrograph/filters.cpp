#include "filters.h"

#include <algorithm>
#include <cmath>

namespace micrograph {
namespace {

int mosaic_colour(int x, int y) { return y % 2 == 0 ? (x % 2 == 0 ? 0 : 1) : (x % 2 == 0 ? 1 : 2); }

float neighbour_mean(const Samples& mosaic, int x, int y, int colour) {
  float sum = 0.0F;
  int count = 0;
  for (int dy = -1; dy <= 1; ++dy) {
    for (int dx = -1; dx <= 1; ++dx) {
      const int nx = x + dx;
      const int ny = y + dy;
      if (nx < 0 || ny < 0 || nx >= mosaic.width || ny >= mosaic.height || mosaic_colour(nx, ny) != colour) continue;
      // Green at green's diagonal is a farther neighbour than those beside it.
      if (colour == 1 && dx != 0 && dy != 0) continue;
      sum += mosaic.data[static_cast<std::size_t>(ny) * mosaic.width + nx];
      ++count;
    }
  }
  return count > 0 ? sum / static_cast<float>(count) : 0.0F;
}

/// Weights of the source samples that make one new sample.
struct Taps {
  int first;
  std::vector<float> weights;
};

double cubic(double t) {
  t = std::abs(t);
  if (t < 1.0) return (1.5 * t - 2.5) * t * t + 1.0;
  if (t < 2.0) return ((-0.5 * t + 2.5) * t - 4.0) * t + 2.0;
  return 0.0;
}

std::vector<Taps> resample_taps(int new_size, double factor) {
  const double widen = std::max(1.0, 1.0 / factor);
  std::vector<Taps> all;
  for (int i = 0; i < new_size; ++i) {
    const double centre = (i + 0.5) / factor - 0.5;
    Taps taps{static_cast<int>(std::floor(centre - 2.0 * widen)) + 1, {}};
    const int last = static_cast<int>(std::floor(centre + 2.0 * widen));
    double sum = 0.0;
    for (int k = taps.first; k <= last; ++k) sum += cubic((k - centre) / widen);
    for (int k = taps.first; k <= last; ++k) {
      taps.weights.push_back(static_cast<float>(cubic((k - centre) / widen) / sum));
    }
    all.push_back(std::move(taps));
  }
  return all;
}

std::vector<Taps> blur_taps(int size, double sigma) {
  const int radius = static_cast<int>(std::ceil(4.0 * sigma));
  std::vector<float> weights;
  float sum = 0.0F;
  for (int k = -radius; k <= radius; ++k) {
    weights.push_back(static_cast<float>(std::exp(-0.5 * k * k / (sigma * sigma))));
    sum += weights.back();
  }
  for (float& weight : weights) weight /= sum;
  std::vector<Taps> all;
  for (int i = 0; i < size; ++i) all.push_back({i - radius, weights});
  return all;
}

Samples filter_rows(const Samples& in, const std::vector<Taps>& taps) {
  Samples out{static_cast<int>(taps.size()), in.height, in.channels, {}};
  out.data.resize(static_cast<std::size_t>(out.width) * out.height * out.channels);
  for (int y = 0; y < in.height; ++y) {
    const float* source = in.data.data() + static_cast<std::size_t>(y) * in.width * in.channels;
    float* target = out.data.data() + static_cast<std::size_t>(y) * out.width * out.channels;
    for (int x = 0; x < out.width; ++x) {
      for (int c = 0; c < in.channels; ++c) {
        float sum = 0.0F;
        int k = taps[x].first;
        for (const float weight : taps[x].weights) {
          sum += weight * source[std::clamp(k++, 0, in.width - 1) * in.channels + c];
        }
        target[x * in.channels + c] = sum;
      }
    }
  }
  return out;
}

Samples filter_columns(const Samples& in, const std::vector<Taps>& taps) {
  Samples out{in.width, static_cast<int>(taps.size()), in.channels, {}};
  const std::size_t stride = static_cast<std::size_t>(in.width) * in.channels;
  out.data.assign(stride * taps.size(), 0.0F);
  for (std::size_t y = 0; y < taps.size(); ++y) {
    float* target = out.data.data() + y * stride;
    int k = taps[y].first;
    for (const float weight : taps[y].weights) {
      const float* source = in.data.data() + static_cast<std::size_t>(std::clamp(k++, 0, in.height - 1)) * stride;
      for (std::size_t x = 0; x < stride; ++x) target[x] += weight * source[x];
    }
  }
  return out;
}

}  // namespace

void keep_mosaic(Samples& samples) {
  Samples mosaic{samples.width, samples.height, 1, {}};
  mosaic.data.resize(static_cast<std::size_t>(samples.width) * samples.height);
  for (int y = 0; y < samples.height; ++y) {
    for (int x = 0; x < samples.width; ++x) {
      const std::size_t i = static_cast<std::size_t>(y) * samples.width + x;
      mosaic.data[i] = samples.data[3 * i + mosaic_colour(x, y)];
    }
  }
  samples = std::move(mosaic);
}

void fill_mosaic(Samples& samples) {
  Samples full{samples.width, samples.height, 3, {}};
  full.data.resize(samples.data.size() * 3);
  for (int y = 0; y < samples.height; ++y) {
    for (int x = 0; x < samples.width; ++x) {
      const std::size_t i = static_cast<std::size_t>(y) * samples.width + x;
      for (int c = 0; c < 3; ++c) {
        full.data[3 * i + c] = mosaic_colour(x, y) == c ? samples.data[i] : neighbour_mean(samples, x, y, c);
      }
    }
  }
  samples = std::move(full);
}

void sharpen(double amount, double sigma, Samples& samples) {
  const Samples soft =
      filter_columns(filter_rows(samples, blur_taps(samples.width, sigma)), blur_taps(samples.height, sigma));
  const float strength = static_cast<float>(amount);
  for (std::size_t i = 0; i < samples.data.size(); ++i) {
    samples.data[i] = std::clamp(samples.data[i] + strength * (samples.data[i] - soft.data[i]), 0.0F, 1.0F);
  }
}

Samples resample(const Samples& samples, double factor) {
  const int width = static_cast<int>(std::floor(samples.width * factor));
  const int height = static_cast<int>(std::floor(samples.height * factor));
  return filter_columns(filter_rows(samples, resample_taps(width, factor)), resample_taps(height, factor));
}

}  // namespace micrograph
