#include "curves.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace micrograph {
namespace {

constexpr double kStepPx = 12.0;  // of a walk: short against any bend drawn

double distance_to(Point p, Point a, Point b) {
  const double dx = b.x - a.x;
  const double dy = b.y - a.y;
  const double length2 = dx * dx + dy * dy;
  const double t = length2 > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / length2, 0.0, 1.0) : 0.0;
  return std::hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

/// The part of the picture a curve can touch, with the distance to it.
struct Patch {
  int x1, y1, x2, y2;
  std::vector<float> distance;
  bool empty() const { return x1 > x2 || y1 > y2; }
  int width() const { return x2 - x1 + 1; }
};

Patch patch_of(const Point* first, const Point* last, double reach, const Plane& light) {
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
  for (const Point* p = first; p != last; ++p) {
    left = std::min(left, p->x - reach);
    right = std::max(right, p->x + reach);
    top = std::min(top, p->y - reach);
    bottom = std::max(bottom, p->y + reach);
  }
  const auto column = [&](double x) { return static_cast<int>(std::clamp(x, -1.0, light.width * 1.0)); };
  const auto line = [&](double y) { return static_cast<int>(std::clamp(y, -1.0, light.height * 1.0)); };
  return {std::max(0, column(left)),
          std::max(0, line(top)),
          std::min(light.width - 1, column(right)),
          std::min(light.height - 1, line(bottom)),
          {}};
}

void measure(const std::vector<Point>& points, double reach, const Plane& light, Patch& patch) {
  patch.distance.assign(static_cast<std::size_t>(patch.width()) * (patch.y2 - patch.y1 + 1), 1e9F);
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const Patch part = patch_of(&points[i], &points[i] + 2, reach, light);
    for (int y = part.y1; y <= part.y2; ++y) {
      float* row = &patch.distance[static_cast<std::size_t>(y - patch.y1) * patch.width()];
      for (int x = part.x1; x <= part.x2; ++x) {
        const double d = distance_to({static_cast<double>(x), static_cast<double>(y)}, points[i], points[i + 1]);
        row[x - patch.x1] = std::min(row[x - patch.x1], static_cast<float>(d));
      }
    }
  }
}

}  // namespace

double soft_step(double distance, double softness) {
  constexpr double kFar = 5.0;  // standard deviations; the tail beyond is 3e-7
  if (distance >= kFar * softness) return 1.0;
  if (distance <= -kFar * softness) return 0.0;
  return 0.5 * std::erfc(-distance / (softness * std::numbers::sqrt2));
}

std::vector<Point> wander(Point start, double heading, double length, double bend, Random& random) {
  std::vector<Point> points{start};
  double turn = 0.0;
  for (double run = 0.0; run < length; run += kStepPx) {
    turn = 0.85 * turn + bend * random.normal();
    heading += turn;
    start = {start.x + kStepPx * std::cos(heading), start.y + kStepPx * std::sin(heading)};
    points.push_back(start);
  }
  return points;
}

void draw_curve(const Curve& curve, Plane& light) {
  if (curve.points.size() < 2) return;
  const double reach = curve.half_width + 4.0 * curve.softness + 1.0;
  Patch patch = patch_of(curve.points.data(), curve.points.data() + curve.points.size(), reach, light);
  if (patch.empty()) return;
  measure(curve.points, reach, light, patch);
  for (int y = patch.y1; y <= patch.y2; ++y) {
    const float* distance = &patch.distance[static_cast<std::size_t>(y - patch.y1) * patch.width()];
    float* row = light.row(y);
    for (int x = patch.x1; x <= patch.x2; ++x) {
      const double d = static_cast<double>(distance[x - patch.x1]);
      if (d > reach) continue;
      const double body = soft_step(curve.half_width - d, curve.softness);
      const double core = curve.core * soft_step(0.45 * curve.half_width - d, curve.softness);
      row[x] *= static_cast<float>(1.0 - curve.amplitude * (body - core));
    }
  }
}

}  // namespace micrograph
