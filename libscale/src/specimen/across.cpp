#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <scale/specimen.h>

#include "image/frame.h"
#include "numeric/robust.h"
#include "specimen/edges.h"
#include "specimen/judgement.h"
#include "specimen/narrow.h"
#include "specimen/rim_fit.h"

namespace scale {
namespace {

constexpr double kStep = 0.25;         // pixels along the line
constexpr double kLeastStep = 0.08;    // of the profile's range: smaller steps are unevenness
constexpr double kSignificance = 6.0;  // standard deviations of the averaged profile

struct Line {
  cv::Point2d from, along, across;
  double length = 0.0;
};

// Mean of the lines within the band; no ground is taken off, since layers may fill the picture.
MeanProfile averaged(const ImageView& image, const Line& line, double band) {
  const Ground none(cv::Mat::zeros(2, 2, CV_32F), 1e6);
  const Relief relief(image, none, false);
  MeanProfile mean{0.0, kStep, {}};
  const auto count = static_cast<std::size_t>(line.length / kStep) + 1;
  std::vector<float> values(count);
  mean.values.assign(count, 0.0);
  const int rows = std::max(1, static_cast<int>(std::lround(band)));
  for (int row = 0; row < rows; ++row) {
    relief.profile(line.from + line.across * (row - 0.5 * (rows - 1)), line.along * kStep, static_cast<int>(count),
                   values.data());
    for (std::size_t i = 0; i < count; ++i) mean.values[i] += static_cast<double>(values[i]) / rows;
  }
  return mean;
}

struct Edge {
  double at = 0.0, blur = 0.0;
  double below = 0.0, above = 0.0;  // levels before and behind it along the line
};

constexpr double kArm = 3.0;  // pixels to either side whose means make a slope

// Difference of the means behind and before each place, over their distance.
std::vector<double> slopes_of(const MeanProfile& mean) {
  constexpr auto kSamples = static_cast<std::size_t>(kArm / kStep);
  std::vector<double> sums{0.0}, slopes(mean.values.size(), 0.0);
  for (const double value : mean.values) sums.push_back(sums.back() + value);
  for (std::size_t i = kSamples; i + kSamples < slopes.size(); ++i)
    slopes[i] = (sums[i + kSamples] - 2.0 * sums[i] + sums[i - kSamples]) / (kSamples * kArm);
  return slopes;
}

double level_of(const MeanProfile& mean, double from, double to) {
  std::vector<double> values;
  for (double t = from; t <= to; t += kStep)
    if (const double value = mean.at(t); std::isfinite(value)) values.push_back(value);
  return values.empty() ? std::numeric_limits<double>::quiet_NaN()
                        : numeric::median_in_place(std::span<double>(values));
}

double passes(const MeanProfile& mean, double level, double near) {
  double best = std::numeric_limits<double>::quiet_NaN();
  for (double t = mean.first; t + kStep < mean.first + kStep * static_cast<double>(mean.values.size()); t += kStep) {
    const double here = mean.at(t), next = mean.at(t + kStep);
    if (!std::isfinite(next) || (here > level) == (next > level)) continue;
    const double at = t + kStep * (level - here) / (next - here);
    if (!(std::abs(at - near) >= std::abs(best - near))) best = at;
  }
  return best;
}

// Places where the slope is steepest between two places where it is flat or turns.
std::vector<double> steep_places(const std::vector<double>& slopes, double least) {
  std::vector<double> places;
  for (std::size_t i = 1; i + 1 < slopes.size(); ++i) {
    const double size = std::abs(slopes[i]);
    if (size < least || size < std::abs(slopes[i - 1]) || size <= std::abs(slopes[i + 1])) continue;
    const double at = static_cast<double>(i) * kStep;
    constexpr double kApart = 1.5;  // pixels: closer tops of one sense are noise on one edge
    const bool same = !places.empty() && at - places.back() < kApart &&
                      slopes[static_cast<std::size_t>(places.back() / kStep)] * slopes[i] > 0.0;
    if (!same)
      places.push_back(at);
    else if (size > std::abs(slopes[static_cast<std::size_t>(places.back() / kStep)]))
      places.back() = at;
  }
  return places;
}

// The edge at a steep place, its levels half-way to the neighbouring ones, no further than a dozen pixels.
Edge edge_at(const MeanProfile& mean, const std::vector<double>& places, std::size_t i) {
  constexpr double kFurthest = 12.0;
  const double left = i > 0 ? std::min(kFurthest, 0.5 * (places[i] - places[i - 1])) : kFurthest;
  const double right = i + 1 < places.size() ? std::min(kFurthest, 0.5 * (places[i + 1] - places[i])) : kFurthest;
  Edge edge;
  edge.below = level_of(mean, places[i] - left, places[i] - 0.6 * left);
  edge.above = level_of(mean, places[i] + 0.6 * right, places[i] + right);
  const auto at = [&](double share) { return passes(mean, edge.below + share * (edge.above - edge.below), places[i]); };
  edge.at = at(0.5);
  edge.blur = std::max(0.2, std::abs(at(0.75) - at(0.25)) / (2.0 * 0.67449));
  return edge;
}

double step_of(const Edge& edge) {
  const double step = std::abs(edge.above - edge.below);
  return std::isfinite(step) && std::isfinite(edge.at) && std::isfinite(edge.blur) ? step : 0.0;
}

// The weakest place goes until every one left is a step that counts: what is none only narrows its neighbours' levels.
std::vector<Edge> edges_along(const MeanProfile& mean, double noise) {
  const auto [low, high] = std::minmax_element(mean.values.begin(), mean.values.end());
  const double least_step = std::max(kLeastStep * (*high - *low), kSignificance * noise);
  constexpr double kSoftest = 12.0;  // pixels over which such a step may rise
  // Samples a pixel apart are independent: so much slope comes by chance.
  const double chance = 5.0 * noise * std::sqrt(2.0 / kArm) / kArm;
  std::vector<double> places = steep_places(slopes_of(mean), std::max(least_step / kSoftest, chance));
  for (;;) {
    std::vector<Edge> edges;
    for (std::size_t i = 0; i < places.size(); ++i) edges.push_back(edge_at(mean, places, i));
    const auto weakest = std::min_element(edges.begin(), edges.end(),
                                          [](const Edge& a, const Edge& b) { return step_of(a) < step_of(b); });
    if (weakest == edges.end() || step_of(*weakest) > least_step) return edges;
    places.erase(places.begin() + (weakest - edges.begin()));
  }
}

Body interval(const Line& line, const Edge& one, const Edge& other, double noise, double band) {
  Body body;
  body.kind = BodyKind::across;
  const auto at = [&](double t) {
    const cv::Point2d point = line.from + line.along * t;
    return PixelPoint{point.x, point.y};
  };
  body.at = at(0.5 * (one.at + other.at));
  body.widths.push_back({at(one.at), at(other.at), true});
  body.edge_blur_px = 0.5 * (one.blur + other.blur);
  const double slope = std::abs(one.above - one.below) / (2.5066 * one.blur);  // step / (sqrt(2 pi) s)
  body.edge_noise_px = noise / std::max(slope, 1e-9);
  body.inside_level = 0.5 * (one.above + other.below);
  body.outside_level = 0.5 * (one.below + other.above);
  body.edge_length_px = band;
  return body;
}

// A line or a gap between two steps of opposite sense that shows hardly more than its blur.
bool unresolved(const Edge& one, const Edge& other) {
  if ((one.above > one.below) == (other.above > other.below)) return false;
  const double measured = other.at - one.at, apparent = 0.5 * (one.blur + other.blur);
  return measured <= kFullyResolved * apparent && bar_width(measured, blur_of_bar(measured, apparent)) <= 0.0;
}

// The intervals that are resolved; a warning names the others by their place along the line.
void add_intervals(SpecimenReading& reading, const Line& line, const std::vector<Edge>& edges, double noise,
                   double band) {
  std::vector<Body> all;
  std::string narrow;
  for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
    all.push_back(interval(line, edges[i], edges[i + 1], noise, band));
    if (unresolved(edges[i], edges[i + 1]))
      narrow += (narrow.empty() ? "" : ", ") + std::to_string(i + 1);
    else
      reading.bodies.push_back(all.back());
  }
  reading.edge_blur_px = typical_blur(all);
  if (narrow.empty()) return;
  reading.warnings.push_back({"unresolved", "along the line, of " + std::to_string(all.size()) + " intervals no. " +
                                                narrow +
                                                ": narrower than two blur widths, not resolved and left out (those "
                                                "beside it are too narrow); use a higher magnification"});
  if (reading.bodies.empty())
    reading.failure = Failure{"across", "unresolved",
                              "what the line of measurement crosses is narrower than two blur widths; use a higher "
                              "magnification"};
}

Failure line_outside(const std::string& what, const ImageView& image, const std::string& way_out) {
  return {"across", "line-outside",
          what + " reaches beyond the picture of " + std::to_string(image.width) + " x " +
              std::to_string(image.height) + " pixels; " + way_out};
}

}  // namespace

SpecimenReading find_across(const ImageView& image, PixelPoint from, PixelPoint to, double band_px) {
  SpecimenReading reading;
  reading.width = image.width, reading.height = image.height;
  Line line{{from.x, from.y}, {}, {}, std::hypot(to.x - from.x, to.y - from.y)};
  if (!(line.length >= 4.0)) throw std::invalid_argument("find_across: the line must be four pixels long or more");
  const auto inside = [&](PixelPoint p) {
    return p.x >= 0 && p.y >= 0 && p.x <= image.width - 1 && p.y <= image.height - 1;
  };
  if (!inside(from) || !inside(to)) {
    reading.failure = line_outside("the line of measurement", image, "move or shorten the line");
    return reading;
  }
  if ((reading.failure = unusable_samples(image))) return reading;
  line.along = {(to.x - from.x) / line.length, (to.y - from.y) / line.length};
  line.across = {-line.along.y, line.along.x};
  const FrameStatistics frame = frame_statistics(image);
  reading.noise = frame.noise, reading.saturated_share = frame.saturated_share;
  const MeanProfile mean = averaged(image, line, band_px);
  if (std::any_of(mean.values.begin(), mean.values.end(), [](double v) { return !std::isfinite(v); })) {
    reading.failure = line_outside("the band along the line", image, "move the line, or give a narrower --band");
    return reading;
  }
  const double noise = std::max(frame.noise, 0.3 * image.white / 255.0) / std::sqrt(std::max(1.0, band_px));
  const std::vector<Edge> edges = edges_along(mean, noise);
  add_intervals(reading, line, edges, noise, band_px);
  if (edges.size() < 2)
    reading.failure = Failure{"across", "no-edges",
                              std::string(edges.empty() ? "no edge crosses" : "only one edge crosses") +
                                  " the line of measurement; move or lengthen the line"};
  warn_of_picture(reading);
  return reading;
}

}  // namespace scale
