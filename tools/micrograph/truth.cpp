#include "micrograph/truth.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "graduations.h"
#include "object_map.h"
#include "optics.h"
#include "truth_bodies.h"

namespace micrograph {
namespace {

constexpr double kMarginPx = 3.0;   // a line whose middle is nearer the border is not counted as in view
constexpr double kVisiblePx = 5.0;  // nor one of which less is seen
constexpr int kSamples = 256;       // along a line, to find the part in view; its ends are then bisected

struct Segment {
  double v1, v2;  // on the object
  bool empty() const { return v2 <= v1; }
};

class AxisView {
 public:
  AxisView(const Scene& scene, const LineScale& scale)
      : scene_(scene), map_(scene, 1), scale_(scale), angle_(scale.angle_deg * std::numbers::pi / 180.0) {}

  Point place(double u, double v) const {
    const double c = std::cos(angle_);
    const double s = std::sin(angle_);
    return map_.to_picture({scale_.origin_x + u * c - v * s, scale_.origin_y + u * s + v * c});
  }

  bool inside(Point p, double margin) const {
    if (p.x < margin - 0.5 || p.y < margin - 0.5) return false;
    if (p.x > scene_.width - 0.5 - margin || p.y > scene_.height - 0.5 - margin) return false;
    return !scene_.field.on || std::hypot(p.x - scene_.field.x, p.y - scene_.field.y) < scene_.field.radius_px - margin;
  }

  Segment visible(const Graduation& line) const {
    const double step = (line.v2 - line.v1) / kSamples;
    int first = -1;
    int last = -1;
    for (int i = 0; i <= kSamples; ++i) {
      if (!inside(place(line.u, line.v1 + i * step), 0.0)) continue;
      if (first < 0) first = i;
      last = i;
    }
    if (first < 0) return {0.0, 0.0};
    const double low = first == 0 ? line.v1 : border(line.u, line.v1 + (first - 1) * step, line.v1 + first * step);
    const double high = last == kSamples ? line.v2 : border(line.u, line.v1 + (last + 1) * step, line.v1 + last * step);
    return {low, high};
  }

  double angle() const { return angle_; }

 private:
  double border(double u, double outside, double within) const {
    for (int i = 0; i < 40; ++i) {
      const double middle = 0.5 * (outside + within);
      (inside(place(u, middle), 0.0) ? within : outside) = middle;
    }
    return within;
  }

  const Scene& scene_;
  ObjectMap map_;
  const LineScale& scale_;
  double angle_;
};

struct Seen {
  Graduation line;
  Segment part;
};

std::vector<Seen> seen_lines(const AxisView& view, const std::vector<Graduation>& lines) {
  std::vector<Seen> seen;
  for (const Graduation& line : lines) {
    const Segment part = view.visible(line);
    if (part.empty()) continue;
    const Point from = view.place(line.u, part.v1);
    const Point to = view.place(line.u, part.v2);
    if (std::hypot(to.x - from.x, to.y - from.y) < kVisiblePx) continue;
    if (!view.inside(view.place(line.u, 0.5 * (part.v1 + part.v2)), kMarginPx)) continue;
    seen.push_back({line, part});
  }
  return seen;
}

/// Unit vector across the middle graduation, towards rising numbers.
Point across(const AxisView& view, const Seen& middle) {
  const Point from = view.place(middle.line.u, middle.part.v1);
  const Point to = view.place(middle.line.u, middle.part.v2);
  const double length = std::hypot(to.x - from.x, to.y - from.y);
  return {(to.y - from.y) / length, -(to.x - from.x) / length};
}

double fold_direction(Point n) {
  double angle = std::atan2(n.y, n.x) * 180.0 / std::numbers::pi;
  if (angle > 90.0) angle -= 180.0;
  if (angle <= -90.0) angle += 180.0;
  return angle;
}

double mean_position(const AxisView& view, double u, const Segment& part, Point n) {
  double sum = 0.0;
  for (const BlurNode& node : gauss_legendre(8)) {
    const double v = 0.5 * (part.v1 + part.v2) + node.offset * (part.v2 - part.v1);
    const Point p = view.place(u, v);
    sum += node.weight * (p.x * n.x + p.y * n.y);
  }
  return sum;
}

double slope_over_numbers(const AxisView& view, const std::vector<Seen>& seen, Point n) {
  double mean = 0.0;
  for (const Seen& s : seen) mean += s.line.number / static_cast<double>(seen.size());
  double upper = 0.0;
  double lower = 0.0;
  for (const Seen& s : seen) {
    const double k = s.line.number - mean;
    upper += k * mean_position(view, s.line.nominal_u, s.part, n);
    lower += k * k;
  }
  return lower > 0.0 ? upper / lower : 0.0;
}

TruthLine truth_line(const AxisView& view, const Seen& seen, Point n, double factor) {
  TruthLine line;
  line.number = seen.line.number;
  const Point centre = view.place(seen.line.u, 0.5 * (seen.part.v1 + seen.part.v2));
  const Point from = view.place(seen.line.u, seen.part.v1);
  const Point to = view.place(seen.line.u, seen.part.v2);
  line.x = (centre.x + 0.5) * factor - 0.5;
  line.y = (centre.y + 0.5) * factor - 0.5;
  line.position = (mean_position(view, seen.line.u, seen.part, n) + 0.5 * (n.x + n.y)) * factor - 0.5 * (n.x + n.y);
  line.visible_px = std::hypot(to.x - from.x, to.y - from.y) * factor;
  line.error_px = seen.line.u - seen.line.nominal_u;
  line.broken = !seen.line.gaps.empty();
  return line;
}

double pitch_on_axis(const AxisView& view, const std::vector<Seen>& seen, Point n) {
  double v = 0.0;
  for (const Seen& s : seen) v += 0.5 * (s.part.v1 + s.part.v2) / static_cast<double>(seen.size());
  const Point first = view.place(seen.front().line.nominal_u, v);
  const Point last = view.place(seen.back().line.nominal_u, v);
  const int divisions = seen.back().line.number - seen.front().line.number;
  return ((last.x - first.x) * n.x + (last.y - first.y) * n.y) / divisions;
}

TruthAxis truth_axis(const Scene& scene, std::size_t index) {
  const LineScale& scale = scene.scales[index];
  const AxisView view(scene, scale);
  const double factor = scene.sensor.resample;
  std::vector<Seen> seen = seen_lines(view, graduations(scene, index));
  TruthAxis axis;
  axis.line_width_px = scale.line_width_px * factor;
  axis.pair_offset_px = scale.pair_offset_px * factor;
  for (const Seen& s : seen) {
    if (s.line.missing) axis.missing.push_back(s.line.number);
  }
  std::erase_if(seen, [](const Seen& s) { return s.line.missing; });
  if (seen.empty()) return axis;
  const Point n = across(view, seen[seen.size() / 2]);
  axis.direction_deg = fold_direction(n);
  for (const Seen& s : seen) axis.lines.push_back(truth_line(view, s, n, factor));
  if (seen.size() < 2) return axis;
  axis.pitch_px = pitch_on_axis(view, seen, n) * factor;
  axis.mean_pitch_px = slope_over_numbers(view, seen, n) * factor;
  return axis;
}

double total_blur(const Scene& scene) {
  const double angle = scene.scales.empty() ? 0.0 : scene.scales.front().angle_deg * std::numbers::pi / 180.0;
  const Blur blur = blur_along(scene.optics, angle);
  double variance = blur.sigma * blur.sigma;
  for (const BlurNode& node : blur.nodes) variance += node.weight * node.offset * node.offset;
  return std::sqrt(variance) * scene.sensor.resample;
}

}  // namespace

double noise_sd(const Scene& scene, double linear) {
  const double read = scene.sensor.read_noise / 255.0;
  const double shot = scene.sensor.full_well > 0.0 ? std::max(linear, 0.0) / scene.sensor.full_well : 0.0;
  return std::sqrt(read * read + shot);
}

Truth truth_of(const Scene& scene) {
  Truth truth;
  truth.name = scene.name;
  truth.seed = scene.seed;
  truth.width = static_cast<int>(std::floor(scene.width * scene.sensor.resample));
  truth.height = static_cast<int>(std::floor(scene.height * scene.sensor.resample));
  truth.bits = scene.sensor.bits;
  truth.jpeg_quality = scene.sensor.jpeg_quality;
  truth.polarity = scene.ground.polarity;
  const Geometry& g = scene.geometry;
  truth.distorted = g.distortion != 0.0 || g.tilt_x != 0.0 || g.tilt_y != 0.0;
  truth.blur_px = total_blur(scene);
  truth.contrast = scene.ground.contrast;
  truth.amplitude = scene.sensor.exposure * scene.ground.level * scene.ground.contrast;
  const double middle = scene.ground.level * (1.0 - 0.5 * scene.ground.contrast);
  truth.noise_sd = noise_sd(scene, scene.sensor.exposure * (middle + scene.sensor.pedestal));
  for (std::size_t i = 0; i < scene.scales.size(); ++i) truth.axes.push_back(truth_axis(scene, i));
  truth.bodies = truth_bodies(scene);
  return truth;
}

bool is_fair(const Truth& truth) {
  if (truth.jpeg_quality > 0 && truth.jpeg_quality < 60) return false;
  return !truth.axes.empty() && truth.axes.front().lines.size() >= 5;
}

}  // namespace micrograph
