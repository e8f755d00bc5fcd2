#include "calibration/reticle_runs.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "calibration/certified.h"

namespace scale::calibration {
namespace {

// Of the coarser division: lines are commonly a tenth of it wide, and look like one while within half of that
// (judgement, no source).
constexpr double kCoincidenceShare = 0.05;
// Lines further apart than that are not neighbours: between them the eye had other pairs to judge by.
constexpr double kFurthestNeighbour = 10.0;

bool whole(const EyeReading& reading) { return !reading.reticle_estimated && !reading.micrometer_estimated; }

struct Step {
  double reticle = 0.0, micrometer = 0.0;
  friend bool operator==(const Step&, const Step&) = default;
};

Step step_between(const EyeReading& from, const EyeReading& to) {
  return {to.reticle - from.reticle, to.micrometer - from.micrometer};
}

// The smallest step from a pair of lines to the next one that can coincide.
bool neighbourly(const Step& step) {
  if (step.reticle > kFurthestNeighbour || step.micrometer > kFurthestNeighbour) return false;
  return std::gcd(std::lround(step.reticle), std::lround(step.micrometer)) == 1;
}

// Places of `readings`, cut into runs; a reading on its own is a run of one. They are sorted within their series.
std::vector<std::vector<std::size_t>> runs_of(std::span<const EyeReading> readings) {
  std::vector<std::vector<std::size_t>> runs;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const bool alone = runs.empty() || readings[i].series != readings[runs.back().back()].series ||
                       !whole(readings[i]) || !whole(readings[runs.back().back()]);
    if (!alone) {
      std::vector<std::size_t>& run = runs.back();
      const Step step = step_between(readings[run.back()], readings[i]);
      const bool same = run.size() < 2 || step == step_between(readings[run[run.size() - 2]], readings[run.back()]);
      if (same && neighbourly(step)) {
        run.push_back(i);
        continue;
      }
    }
    runs.push_back({i});
  }
  return runs;
}

ReadingPoint point_of(const EyeReading& reading, const ReadingScales& scales, double slope) {
  const double limits = scales.coincidence_um(slope), share = limits / std::sqrt(6.0);
  const auto estimated = [&](bool was) { return was ? standard_uncertainty_within(scales.conditions.estimate) : 0.0; };
  ReadingPoint point;
  point.x = reading.reticle;
  point.y = scales.position_um(reading.micrometer);
  point.u_x = std::hypot(share / slope, estimated(reading.reticle_estimated),
                         standard_uncertainty_within(scales.conditions.parallax));
  point.u_y = std::hypot(share, estimated(reading.micrometer_estimated) * scales.scale.division.value);
  point.limits_um = std::sqrt(3.0) * point.uncertainty(slope);
  point.series = reading.series;
  return point;
}

// The middle of a run: the line where the sign changes is missed by half a step at most, and the ends of the run by
// half the limits each (judgement).
ReadingPoint middle_of(std::span<const EyeReading> readings, const std::vector<std::size_t>& run,
                       const ReadingScales& scales, double slope) {
  const EyeReading &first = readings[run.front()], &last = readings[run.back()];
  EyeReading middle = first;
  middle.reticle = 0.5 * (first.reticle + last.reticle);
  middle.micrometer = 0.5 * (first.micrometer + last.micrometer);
  ReadingPoint point = point_of(middle, scales, slope);
  const Step step = step_between(first, readings[run[1]]);
  const double half_step = 0.5 * std::abs(step.micrometer * scales.scale.division.value - step.reticle * slope);
  const double limits = scales.coincidence_um(slope);
  const double narrowed = std::min(1.0, std::sqrt(half_step * half_step + limits * limits / 8.0) / limits);
  const double parallax = standard_uncertainty_within(scales.conditions.parallax);
  point.u_y *= narrowed;
  point.u_x = std::hypot(narrowed * limits / std::sqrt(6.0) / slope, parallax);
  point.limits_um = std::sqrt(3.0) * point.uncertainty(slope);
  return point;
}

void add_run(std::vector<ReadingPoint>& points, std::span<const EyeReading> readings,
             const std::vector<std::size_t>& run, std::size_t in_series, const ReadingScales& scales, double slope) {
  const auto add = [&](ReadingPoint point, std::vector<std::size_t> from, std::size_t stands_for) {
    point.from = std::move(from);
    point.stands_for = stands_for;
    points.push_back(std::move(point));
  };
  const EyeReading& first = readings[run.front()];
  if (run.size() == 1) return add(point_of(first, scales, slope), run, run.front());
  if (run.size() == in_series) {
    std::vector<std::size_t> lower(run.begin(), run.end() - 1);
    add(point_of(first, scales, slope), lower, run.front());
    return add(point_of(readings[run.back()], scales, slope), {run.back()}, run.back());
  }
  if (first.reticle == 0.0) return add(point_of(first, scales, slope), run, run.front());
  add(middle_of(readings, run, scales, slope), run, run[run.size() / 2]);
}

// The same coincidence in several series is one misfit of the two scales seen several times.
void weaken_repeats(std::vector<ReadingPoint>& points, std::span<const EyeReading> readings) {
  std::map<int, const ReadingPoint*> first;
  for (const ReadingPoint& point : points) first.emplace(point.series, &point);
  std::map<std::pair<double, double>, int> count;
  const auto place = [&](const ReadingPoint& point) {
    const EyeReading &own = readings[point.stands_for], &start = readings[first[point.series]->stands_for];
    return std::pair(own.reticle - start.reticle, own.micrometer - start.micrometer);
  };
  const auto repeatable = [&](const ReadingPoint& point) { return whole(readings[point.stands_for]); };
  for (const ReadingPoint& point : points)
    if (repeatable(point)) ++count[place(point)];
  for (ReadingPoint& point : points) {
    if (!repeatable(point)) continue;
    const double more = std::sqrt(static_cast<double>(count[place(point)]));
    point.u_x *= more;
    point.u_y *= more;
  }
}

}  // namespace

double ReadingPoint::uncertainty(double slope) const { return std::hypot(u_y, slope * u_x); }

double ReadingScales::position_um(double graduation) const {
  const double nominal = graduation * scale.division.value;
  return nominal + correction_at(scale, nominal);
}

double ReadingScales::coincidence_um(double slope) const {
  if (conditions.coincidence) return conditions.coincidence->value;
  const double common = kCoincidenceShare * std::max(scale.division.value, slope);
  return conditions.line_width ? std::max(common, 0.5 * conditions.line_width->value) : common;
}

std::vector<ReadingPoint> points_of(std::span<const EyeReading> readings, const ReadingScales& scales, double slope) {
  std::map<int, std::size_t> in_series;
  for (const EyeReading& reading : readings) ++in_series[reading.series];
  std::vector<ReadingPoint> points;
  for (const std::vector<std::size_t>& run : runs_of(readings))
    add_run(points, readings, run, in_series[readings[run.front()].series], scales, slope);
  weaken_repeats(points, readings);
  return points;
}

}  // namespace scale::calibration
