#include "compare.h"

#include <algorithm>

#include <micrograph/render.h>

#include "support/grey_picture.h"

namespace specimen_test {
namespace {

constexpr double kOffLine = 0.35;  // widths from the drawn centre line within which a place lies on that fibre

double distance_to_line(const std::vector<double>& points, double x, double y) {
  double least = 1e9;
  for (std::size_t i = 0; i + 3 < points.size(); i += 2) {
    const double dx = points[i + 2] - points[i], dy = points[i + 3] - points[i + 1];
    const double square = std::max(dx * dx + dy * dy, 1e-12);
    const double share = std::clamp(((x - points[i]) * dx + (y - points[i + 1]) * dy) / square, 0.0, 1.0);
    least = std::min(least, std::hypot(x - points[i] - share * dx, y - points[i + 1] - share * dy));
  }
  return least;
}

bool inside(const std::vector<double>& outline, double x, double y) {
  bool in = false;
  const std::size_t count = outline.size() / 2;
  for (std::size_t i = 0, j = count - 1; i < count; j = i++) {
    const double yi = outline[2 * i + 1], yj = outline[2 * j + 1];
    if ((yi > y) == (yj > y)) continue;
    in ^= x < outline[2 * i] + (y - yi) / (yj - yi) * (outline[2 * j] - outline[2 * i]);
  }
  return in;
}

// Share of a found fibre's places that count which lie on the drawn one.
double share_on(const scale::Body& found, const micrograph::TruthBody& truth) {
  int on = 0, count = 0;
  for (std::size_t i = 0; i < found.widths.size(); i += 3) {
    const scale::LocalWidth& local = found.widths[i];
    if (!local.used) continue;
    const double x = 0.5 * (local.left.x + local.right.x), y = 0.5 * (local.left.y + local.right.y);
    on += distance_to_line(truth.points, x, y) < kOffLine * truth.width_px;
    ++count;
  }
  return count > 0 ? static_cast<double>(on) / count : 0.0;
}

bool belongs(const scale::Body& found, const micrograph::TruthBody& truth) {
  if (truth.fibre != (found.kind == scale::BodyKind::fibre)) return false;
  return truth.fibre ? share_on(found, truth) > 0.7 : inside(truth.points, found.at.x, found.at.y);
}

double area_of(const scale::Body& body) {
  double twice = 0.0;
  for (std::size_t i = 0; i < body.outline.size(); ++i) {
    const auto& a = body.outline[i];
    const auto& b = body.outline[(i + 1) % body.outline.size()];
    twice += a.x * b.y - b.x * a.y;
  }
  return 0.5 * std::abs(twice);
}

// Breadth in steps of a quarter degree: another way than the engine's.
double least_breadth(const scale::Body& body) {
  double least = 1e9;
  for (double angle = 0.0; angle < 180.0; angle += 0.25) {
    const double c = std::cos(angle * 0.017453292519943295), s = std::sin(angle * 0.017453292519943295);
    double low = 1e9, high = -1e9;
    for (const auto& point : body.outline) {
      const double p = point.x * c + point.y * s;
      low = std::min(low, p), high = std::max(high, p);
    }
    least = std::min(least, high - low);
  }
  return least;
}

// The renderer's width at the place nearest to (x, y).
double true_width(const micrograph::Body& drawn, double x, double y) {
  double length = 0.0, along = 0.0, at = 0.0, least = 1e9;
  const auto& p = drawn.points;
  for (std::size_t i = 0; i + 3 < p.size(); i += 2) {
    const double dx = p[i + 2] - p[i], dy = p[i + 3] - p[i + 1], step = std::hypot(dx, dy);
    const double share = std::clamp(((x - p[i]) * dx + (y - p[i + 1]) * dy) / std::max(step * step, 1e-12), 0.0, 1.0);
    const double distance = std::hypot(x - p[i] - share * dx, y - p[i + 1] - share * dy);
    if (distance < least) least = distance, at = along + share * step;
    along += step;
  }
  length = along;
  const double wave = std::sin(2.0 * 3.141592653589793 * at / drawn.scales_period_px);
  return drawn.width_px * (1.0 + drawn.taper * (length > 0.0 ? at / length - 0.5 : 0.0) + drawn.scales * wave);
}

void measure(Pair& pair, const micrograph::Body& drawn) {
  if (!pair.truth.fibre) {
    pair.width_error_px = least_breadth(pair.found) - pair.truth.width_px;
    pair.area_error = area_of(pair.found) / pair.truth.area_px2 - 1.0;
    return;
  }
  double error = 0.0;
  int count = 0;
  for (const scale::LocalWidth& local : pair.found.widths) {
    if (!local.used) continue;
    error += std::hypot(local.left.x - local.right.x, local.left.y - local.right.y) -
             true_width(drawn, 0.5 * (local.left.x + local.right.x), 0.5 * (local.left.y + local.right.y));
    ++count;
  }
  pair.width_error_px = error / count;
}

// Of a fibre three widths in view, of a grain all of it.
bool measurable(const micrograph::TruthBody& truth) {
  return truth.fibre ? truth.length_px > 4.0 * truth.width_px : !truth.at_border;
}

}  // namespace

Comparison compare(const micrograph::Scene& scene, const scale::SpecimenOptions& options) {
  Comparison result;
  result.reading = scale::find_bodies(test_support::grey_picture(scene).view(), options);
  const micrograph::Truth truth = micrograph::truth_of(scene);
  std::vector<int> times(truth.bodies.size(), 0);
  for (const scale::Body& found : result.reading.bodies) {
    std::size_t match = truth.bodies.size();
    for (std::size_t i = 0; i < truth.bodies.size(); ++i)
      if (belongs(found, truth.bodies[i])) match = i;
    if (match == truth.bodies.size()) {
      result.foreign.push_back(found);
    } else if (++times[match] > 1) {
      result.doubled.push_back(found);
    } else {
      Pair pair{truth.bodies[match], found};
      const auto drawn = std::find_if(scene.bodies.begin(), scene.bodies.end(),
                                      [&](const micrograph::Body& body) { return body.points == pair.truth.points; });
      measure(pair, *drawn);
      result.pairs.push_back(pair);
    }
  }
  for (std::size_t i = 0; i < truth.bodies.size(); ++i)
    if (times[i] == 0 && measurable(truth.bodies[i])) result.missed.push_back(truth.bodies[i]);
  return result;
}

}  // namespace specimen_test
