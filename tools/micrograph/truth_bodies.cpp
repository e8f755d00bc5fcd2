#include "truth_bodies.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "bodies.h"

namespace micrograph {
namespace {

struct Spot {
  double x, y;
};

std::vector<Spot> spots_of(const Body& body) {
  std::vector<Spot> spots;
  for (std::size_t i = 0; i + 1 < body.points.size(); i += 2) spots.push_back({body.points[i], body.points[i + 1]});
  return spots;
}

double distance(const Spot& a, const Spot& b) { return std::hypot(b.x - a.x, b.y - a.y); }

bool in_frame(const Scene& scene, const Spot& at, double margin) {
  return at.x >= margin - 0.5 && at.y >= margin - 0.5 && at.x <= scene.width - 0.5 - margin &&
         at.y <= scene.height - 0.5 - margin;
}

/// Steps of a quarter pixel along the centre line tell what of it is in view.
TruthBody fibre_truth(const Scene& scene, const Body& body) {
  const std::vector<Spot> line = spots_of(body);
  double length = 0.0;
  for (std::size_t i = 1; i < line.size(); ++i) length += distance(line[i - 1], line[i]);
  TruthBody truth;
  truth.fibre = true;
  std::vector<Spot> seen;
  double along = 0.0, sum = 0.0;
  constexpr double kStep = 0.25;
  for (std::size_t i = 1; i < line.size(); ++i) {
    const double step = distance(line[i - 1], line[i]);
    for (double t = 0.5 * kStep; t < step; t += kStep) {
      const double share = t / step;
      const Spot at{line[i - 1].x + share * (line[i].x - line[i - 1].x),
                    line[i - 1].y + share * (line[i].y - line[i - 1].y)};
      const double width = width_at(body, along + t, length);
      if (!in_frame(scene, at, 0.5 * width)) truth.at_border = true;
      if (!in_frame(scene, at, 0.0)) continue;
      seen.push_back(at);
      sum += width;
    }
    along += step;
  }
  if (seen.empty()) return truth;
  truth.x = seen[seen.size() / 2].x, truth.y = seen[seen.size() / 2].y;
  truth.width_px = sum / static_cast<double>(seen.size());
  truth.length_px = kStep * static_cast<double>(seen.size());
  if (!truth.at_border) truth.length_px = length + 0.5 * (width_at(body, 0.0, length) + width_at(body, length, length));
  return truth;
}

double breadth(const std::vector<Spot>& outline, double angle) {
  const double c = std::cos(angle), s = std::sin(angle);
  double low = 1e9, high = -1e9;
  for (const Spot& spot : outline) {
    const double p = spot.x * c + spot.y * s;
    low = std::min(low, p), high = std::max(high, p);
  }
  return high - low;
}

/// Least and largest Feret diameter. The least by looking in all directions, near the best in steps of 1e-4 radians
/// (within 1e-4 of the size); the largest joins two corners.
std::pair<double, double> ferets(const std::vector<Spot>& outline) {
  constexpr double kTurn = 3.14159265358979323846, kCoarse = 0.01, kFine = 1e-4;
  double best = 0.0;
  for (double angle = 0.0; angle < kTurn; angle += kCoarse)
    if (breadth(outline, angle) < breadth(outline, best)) best = angle;
  double least = 1e9, most = 0.0;
  for (double angle = best - kCoarse; angle <= best + kCoarse; angle += kFine)
    least = std::min(least, breadth(outline, angle));
  for (const Spot& a : outline)
    for (const Spot& b : outline) most = std::max(most, distance(a, b));
  return {least, most};
}

TruthBody grain_truth(const Scene& scene, const Body& body) {
  const std::vector<Spot> outline = spots_of(body);
  TruthBody truth;
  double twice = 0.0, sx = 0.0, sy = 0.0;
  bool seen = false;
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const Spot& a = outline[i];
    const Spot& b = outline[(i + 1) % outline.size()];
    const double cross = a.x * b.y - b.x * a.y;
    twice += cross, sx += cross * (a.x + b.x), sy += cross * (a.y + b.y);
    truth.perimeter_px += distance(a, b);
    in_frame(scene, a, 0.0) ? seen = true : truth.at_border = true;
  }
  truth.area_px2 = 0.5 * std::abs(twice);
  truth.x = sx / (3.0 * twice), truth.y = sy / (3.0 * twice);
  if (seen) std::tie(truth.width_px, truth.feret_max_px) = ferets(outline);
  return truth;
}

}  // namespace

std::vector<TruthBody> truth_bodies(const Scene& scene) {
  std::vector<TruthBody> list;
  for (const Body& body : scene.bodies) {
    TruthBody truth = body.fibre ? fibre_truth(scene, body) : grain_truth(scene, body);
    if (!(truth.width_px > 0.0)) continue;
    truth.points = body.points;
    list.push_back(truth);
  }
  return list;
}

}  // namespace micrograph
