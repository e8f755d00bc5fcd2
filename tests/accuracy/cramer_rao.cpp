#include "cramer_rao.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "micrograph/render.h"

namespace accuracy {
namespace {

using micrograph::LineScale;
using micrograph::Scene;
using micrograph::Truth;

constexpr double kInfinite = std::numeric_limits<double>::infinity();
// Displacement used for differences, pixels: far above the renderer's float rounding (a slope's error is then
// 1e-6 of full scale a pixel), far below any blur.
constexpr double kShiftPx = 0.02;
constexpr double kRelativeStep = 1e-3;  // of level and contrast, in which the light is linear

enum Parameter { position, pitch, angle, level, contrast, line_width, blur, kParameters };

/// What the scale is turned and stretched about: the middle of what is in view, so that neither moves it as a whole.
struct Pivot {
  double x, y, number, half_span, half_length;
};

Pivot pivot_of(const Scene& scene, const micrograph::TruthAxis& axis) {
  Pivot pivot{0.0, 0.0, 0.0, 0.0, 1.0};
  const double share = 1.0 / static_cast<double>(axis.lines.size());
  for (const micrograph::TruthLine& line : axis.lines) {
    pivot.x += share * line.x / scene.sensor.resample;
    pivot.y += share * line.y / scene.sensor.resample;
    pivot.half_length = std::max(pivot.half_length, 0.5 * line.visible_px / scene.sensor.resample);
  }
  pivot.number = 0.5 * (axis.lines.front().number + axis.lines.back().number);
  pivot.half_span = std::max(1.0, 0.5 * (axis.lines.back().number - axis.lines.front().number));
  return pivot;
}

double step_of(const Scene& scene, const Pivot& pivot, int parameter) {
  switch (parameter) {
    case pitch:
      return kShiftPx / pivot.half_span;
    case angle:
      return kShiftPx / pivot.half_length;
    case level:
      return kRelativeStep * scene.ground.level;
    case contrast:
      return kRelativeStep * scene.ground.contrast;
    case blur:
      return kShiftPx * scene.optics.gaussian_px;
    default:
      return kShiftPx;
  }
}

void turn(LineScale& scale, const Pivot& pivot, double by) {
  const double dx = scale.origin_x - pivot.x;
  const double dy = scale.origin_y - pivot.y;
  scale.origin_x = pivot.x + std::cos(by) * dx - std::sin(by) * dy;
  scale.origin_y = pivot.y + std::sin(by) * dx + std::cos(by) * dy;
  scale.angle_deg += by * 180.0 / std::numbers::pi;
}

void slide(LineScale& scale, double by) {
  const double direction = scale.angle_deg * std::numbers::pi / 180.0;
  scale.origin_x += by * std::cos(direction);
  scale.origin_y += by * std::sin(direction);
}

Scene changed(Scene scene, std::size_t axis, const Pivot& pivot, int parameter, double by) {
  LineScale& scale = scene.scales[axis];
  switch (parameter) {
    case position:
      slide(scale, by);
      break;
    case pitch:
      slide(scale, -pivot.number * by);
      scale.pitch_px += by;
      break;
    case angle:
      turn(scale, pivot, by);
      break;
    case level:
      scene.ground.level += by;
      break;
    case contrast:
      scene.ground.contrast += by;
      break;
    case line_width:
      scale.line_width_px += by;
      break;
    default:
      scene.optics.gaussian_px += by;
      break;
  }
  return scene;
}

std::vector<float> derivative(const Scene& scene, std::size_t axis, const Pivot& pivot, int parameter) {
  const double step = step_of(scene, pivot, parameter);
  std::vector<float> slope = micrograph::render_clean(changed(scene, axis, pivot, parameter, step));
  const std::vector<float> back = micrograph::render_clean(changed(scene, axis, pivot, parameter, -step));
  const float scale = static_cast<float>(0.5 / step);
  for (std::size_t i = 0; i < slope.size(); ++i) slope[i] = (slope[i] - back[i]) * scale;
  return slope;
}

double rounding_variance(const Scene& scene) {
  const double step = 1.0 / ((1 << scene.sensor.bits) - 1);
  return step * step / 12.0;
}

/// The colour an RGGB mosaic keeps.
int mosaic_channel(int x, int y) { return (x & 1) + (y & 1); }

/// 1 / variance of every sample of the light; 0 for those that are clipped or never stored.
std::vector<float> weights(const Scene& scene) {
  std::vector<float> light = micrograph::render_clean(scene);
  const double rounding = rounding_variance(scene);
  const int channels = scene.colour.channels;
  for (std::size_t i = 0; i < light.size(); ++i) {
    const double value = static_cast<double>(light[i]);
    const int pixel = static_cast<int>(i / channels);
    const bool stored = !scene.colour.mosaic ||
                        mosaic_channel(pixel % scene.width, pixel / scene.width) == static_cast<int>(i % channels);
    const double sd = micrograph::noise_sd(scene, value);
    light[i] = stored && value > 0.0 && value < 1.0 ? static_cast<float>(1.0 / (sd * sd + rounding)) : 0.0F;
  }
  return light;
}

using Information = Eigen::Matrix<double, kParameters, kParameters>;

/// How the light changes with each parameter, and what its samples weigh.
struct Slopes {
  std::vector<float> weight;
  std::array<std::vector<float>, kParameters> slopes;

  Slopes(const Scene& scene, std::size_t axis, const Pivot& pivot) : weight(weights(scene)) {
    for (int p = 0; p < kParameters; ++p) slopes[p] = derivative(scene, axis, pivot, p);
  }
  Eigen::Matrix<double, kParameters, 1> at(std::size_t i) const {
    Eigen::Matrix<double, kParameters, 1> slope;
    for (int p = 0; p < kParameters; ++p) slope[p] = static_cast<double>(slopes[p][i]);
    return slope;
  }
  Information information() const {
    Information sum = Information::Zero();
    for (std::size_t i = 0; i < weight.size(); ++i) {
      if (weight[i] == 0.0F) continue;
      sum.selfadjointView<Eigen::Lower>().rankUpdate(at(i), static_cast<double>(weight[i]));
    }
    return sum.selfadjointView<Eigen::Lower>();
  }
};

/// Standard deviation of the pitch, the other parameters unknown; those the picture does not depend on are left out.
double pitch_deviation(const Information& full) {
  if (!(full(pitch, pitch) > 0.0)) return kInfinite;
  std::vector<int> kept{pitch};
  for (int p = 0; p < kParameters; ++p) {
    if (p != pitch && full(p, p) > 0.0) kept.push_back(p);
  }
  const Eigen::Index size = static_cast<Eigen::Index>(kept.size());
  Eigen::MatrixXd scaled(size, size);
  for (Eigen::Index i = 0; i < size; ++i) {
    for (Eigen::Index j = 0; j < size; ++j) {
      scaled(i, j) = full(kept[i], kept[j]) / std::sqrt(full(kept[i], kept[i]) * full(kept[j], kept[j]));
    }
  }
  const Eigen::FullPivLU<Eigen::MatrixXd> solver(scaled);
  if (!solver.isInvertible()) return kInfinite;
  const double variance = solver.inverse()(0, 0) / full(pitch, pitch);
  return variance > 0.0 ? std::sqrt(variance) : kInfinite;
}

/// Sum of (n - mean)^2 over the graduations in view, weighted by their visible length.
double spread(const micrograph::TruthAxis& axis, bool by_length) {
  double sum = 0.0;
  double mean = 0.0;
  double square = 0.0;
  for (const micrograph::TruthLine& line : axis.lines) {
    const double w = by_length ? line.visible_px : 1.0;
    sum += w;
    mean += w * line.number;
    square += w * line.number * line.number;
  }
  return sum > 0.0 ? square - mean * mean / sum : 0.0;
}

double graduation_error_variance(const LineScale& scale, const micrograph::TruthAxis& axis) {
  const double relative = scale.error_sd_px / scale.pitch_px;
  return relative > 0.0 ? relative * relative / spread(axis, false) : 0.0;
}

/// Integral over one pitch of the squared slope of a train of blurred bars of unit contrast. By Fourier series, so
/// that it holds for lines that run into each other too.
double squared_slope(double pitch_px, double width_px, double blur_px) {
  const double w = std::numbers::pi * width_px / pitch_px;
  const double s = 2.0 * std::numbers::pi * blur_px / pitch_px;
  double sum = 0.0;
  for (int h = 1; h * s < 6.0; ++h) {  // exp(-36) is nothing
    const double amplitude = 2.0 / (std::numbers::pi * h) * std::sin(h * w) * std::exp(-0.5 * h * h * s * s);
    const double slope = 2.0 * std::numbers::pi * h / pitch_px * amplitude;
    sum += 0.5 * pitch_px * slope * slope;
  }
  return sum;
}

/// Root mean square of all blur, stored pixels.
double blur_of(const Scene& scene, const Truth& truth) {
  const double factor = scene.sensor.resample;
  return std::hypot(truth.blur_px, factor / std::sqrt(12.0), factor * scene.optics.focus_gradient);
}

bool clipped(const Scene& scene) {
  double brightest = 1.0;
  if (scene.colour.channels == 3) {
    brightest = std::max({scene.colour.red, scene.colour.green, scene.colour.blue});
  }
  return scene.sensor.pedestal < 0.0 || scene.sensor.exposure * scene.ground.level * brightest > 0.99;
}

}  // namespace

double relative_pitch_bound(const Scene& scene, const Truth& truth, std::size_t axis) {
  const micrograph::TruthAxis& seen = truth.axes[axis];
  if (seen.lines.size() < 2) return kInfinite;
  const double light =
      pitch_deviation(Slopes(scene, axis, pivot_of(scene, seen)).information()) / scene.scales[axis].pitch_px;
  return std::sqrt(light * light + graduation_error_variance(scene.scales[axis], seen));
}

BestEstimator::BestEstimator(const Scene& scene, const Truth& truth, std::size_t axis)
    : light_(micrograph::render_clean(scene)) {
  const Slopes slopes(scene, axis, pivot_of(scene, truth.axes[axis]));
  const Information information = slopes.information();
  const Eigen::Matrix<double, kParameters, 1> unit = information.diagonal().cwiseSqrt().cwiseInverse();
  const Information scaled = unit.asDiagonal() * information * unit.asDiagonal();
  const Eigen::Matrix<double, kParameters, 1> row =
      unit[pitch] * unit.asDiagonal() * scaled.inverse().col(pitch) / pitch_deviation(information);
  for (std::size_t i = 0; i < light_.size(); ++i)
    filter_.push_back(slopes.weight[i] * static_cast<float>(row.dot(slopes.at(i))));
}

double BestEstimator::error_in_bounds(const micrograph::Image& exposure) const {
  const double white = (1 << exposure.bits) - 1;
  double sum = 0.0;
  for (std::size_t i = 0; i < light_.size(); ++i) {
    const double sample = exposure.samples[i] / white;
    sum += static_cast<double>(filter_[i]) * (sample - static_cast<double>(light_[i]));
  }
  return sum;
}

double rough_relative_pitch_bound(const Scene& scene, const Truth& truth, std::size_t axis) {
  const micrograph::TruthAxis& seen = truth.axes[axis];
  if (seen.lines.size() < 2 || clipped(scene)) return kInfinite;
  const double factor = scene.sensor.resample;
  const double slope = squared_slope(seen.pitch_px, seen.line_width_px, blur_of(scene, truth));
  // Lengths and slopes are of the stored picture, whose pixels are 1 / factor as wide as those that carry the noise.
  const double density = 1.0 / (factor * factor);
  const double noise = truth.noise_sd * truth.noise_sd + rounding_variance(scene);
  const double amplitude = truth.amplitude * scene.scales[axis].amplitude;
  const double sum = density * amplitude * amplitude * slope * spread(seen, true) / noise;
  if (!(sum > 0.0)) return kInfinite;
  return std::sqrt(1.0 / (sum * seen.pitch_px * seen.pitch_px) + graduation_error_variance(scene.scales[axis], seen));
}

double division_trace(const Scene& scene, const Truth& truth, std::size_t axis) {
  const micrograph::TruthAxis& seen = truth.axes[axis];
  const double turns = std::numbers::pi / seen.pitch_px, blur = blur_of(scene, truth);
  const double fundamental = truth.amplitude * scene.scales[axis].amplitude * 2.0 / std::numbers::pi *
                             std::sin(turns * seen.line_width_px) * std::exp(-2.0 * turns * turns * blur * blur);
  double pixels = 0.0;
  for (const micrograph::TruthLine& line : seen.lines) pixels += line.visible_px * seen.pitch_px;
  const double factor = scene.sensor.resample, noise = truth.noise_sd * truth.noise_sd + rounding_variance(scene);
  return std::abs(fundamental) * std::sqrt(0.5 * pixels / (factor * factor) / noise);
}

}  // namespace accuracy
