#include "calibration/reticle_fit.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "numeric/distributions.h"
#include "numeric/straight_line.h"

namespace scale::calibration {
namespace {

// Readings that scatter so much once in a hundred sets are not believed to fit.
constexpr double kDoubtful = 0.01;
// The weights depend weakly on the slope: two or three rounds settle every digit.
constexpr int kRounds = 6;

struct Centroid {
  double weight = 0.0, x = 0.0, y = 0.0;
};

std::map<int, Centroid> centroids(std::span<const ReadingPoint> points, double slope) {
  std::map<int, Centroid> list;
  for (const ReadingPoint& point : points) {
    const double weight = 1.0 / std::pow(point.uncertainty(slope), 2);
    Centroid& of = list[point.series];
    of.weight += weight;
    of.x += weight * point.x;
    of.y += weight * point.y;
  }
  for (auto& [series, of] : list) of.x /= of.weight, of.y /= of.weight;
  return list;
}

// Slope from the end points of the longest series.
double rough_slope(std::span<const ReadingPoint> points) {
  double longest = 0.0, slope = 0.0;
  for (const ReadingPoint& a : points)
    for (const ReadingPoint& b : points)
      if (a.series == b.series && b.x - a.x > longest) longest = b.x - a.x, slope = (b.y - a.y) / longest;
  return slope;
}

numeric::StraightLine line_about(std::span<const ReadingPoint> points, std::map<int, Centroid>& about) {
  std::vector<double> x, y, u_x, u_y;
  for (const ReadingPoint& point : points) {
    x.push_back(point.x - about[point.series].x);
    y.push_back(point.y - about[point.series].y);
    u_x.push_back(point.u_x);
    u_y.push_back(point.u_y);
  }
  return numeric::fit_line_errors_in_both(x, u_x, y, u_y);
}

std::vector<ReadingPoint> without(std::span<const ReadingPoint> points, std::size_t left_out) {
  std::vector<ReadingPoint> rest(points.begin(), points.end());
  rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(left_out));
  return rest;
}

// Where the line of the others meets a point: micrometres that the point lies above it, and the doubt of that.
struct Departure {
  double um = 0.0, doubt_um = 0.0;
};

std::optional<Departure> departure_of(const ReadingPoint& point, std::span<const ReadingPoint> others,
                                      const ReticleFit& fit) {
  const auto centres = centroids(others, fit.slope);
  const auto own = centres.find(point.series);
  if (own == centres.end()) return std::nullopt;
  const double lever = point.x - own->second.x;
  const double expected = own->second.y + fit.slope * lever;
  return Departure{point.y - expected, std::hypot(point.uncertainty(fit.slope), fit.slope_uncertainty * lever,
                                                  1.0 / std::sqrt(own->second.weight))};
}

std::string miscount_words(const Departure& departure, double slope, double division_um) {
  // Neighbouring lines, the next medium and the next long one are taken for each other.
  for (const int lines : {1, 2, 5, 10}) {
    const std::string by = "miscounted by " + std::to_string(lines) + " on the ";
    const bool reticle = std::abs(std::abs(departure.um) - lines * slope) <= 2.0 * departure.doubt_um;
    const bool micrometer = std::abs(std::abs(departure.um) - lines * division_um) <= 2.0 * departure.doubt_um;
    if (reticle && micrometer) return by + "reticle or the micrometer";
    if (micrometer) return by + "micrometer";
    if (reticle) return by + "reticle";
  }
  return "";
}

}  // namespace

double ReticleFit::chance() const {
  return degrees_of_freedom > 0 ? numeric::chi_square_survival(chi_squared, degrees_of_freedom) : 1.0;
}

ReticleFit fit_points(std::span<const ReadingPoint> points) {
  ReticleFit fit;
  fit.slope = rough_slope(points);
  if (!(fit.slope > 0.0)) return fit;
  numeric::StraightLine line;
  std::map<int, Centroid> about;
  for (int round = 0; round < kRounds; ++round) {
    about = centroids(points, fit.slope);
    line = line_about(points, about);
    if (!line.valid || !(line.slope > 0.0)) return fit;
    fit.slope = line.slope;
  }
  fit.slope_uncertainty = line.slope_uncertainty;
  fit.chi_squared = line.chi_squared;
  fit.degrees_of_freedom = static_cast<int>(points.size()) - static_cast<int>(about.size()) - 1;
  for (const ReadingPoint& point : points)
    fit.offsets.push_back(about[point.series].y - fit.slope * about[point.series].x);
  fit.valid = fit.degrees_of_freedom >= 0;
  return fit;
}

std::optional<Misfit> find_misfit(std::span<const ReadingPoint> points, double division_um) {
  const ReticleFit all = fit_points(points);
  if (!all.valid || all.degrees_of_freedom < 1 || all.chance() >= kDoubtful) return std::nullopt;
  std::vector<Misfit> named, unnamed;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const std::vector<ReadingPoint> rest = without(points, i);
    const ReticleFit fit = fit_points(rest);
    if (!fit.valid || fit.chance() < kDoubtful) continue;
    const auto departure = departure_of(points[i], rest, fit);
    if (!departure) continue;
    const std::string what = miscount_words(*departure, fit.slope, division_um);
    (what.empty() ? unnamed : named).push_back({i, what});
  }
  if (named.size() == 1) return named.front();
  // That it is no whole number of lines off says nothing of which is wrong unless the rest proves itself.
  return named.empty() && unnamed.size() == 1 && all.degrees_of_freedom >= 2 ? std::optional(unnamed.front())
                                                                             : std::nullopt;
}

double feasible_half_range(std::span<const ReadingPoint> points) {
  double least = -std::numeric_limits<double>::infinity(), most = -least;
  for (const ReadingPoint& a : points)
    for (const ReadingPoint& b : points) {
      if (a.series != b.series || !(b.x > a.x)) continue;
      const double limits = a.limits_um + b.limits_um;
      least = std::max(least, (b.y - a.y - limits) / (b.x - a.x));
      most = std::min(most, (b.y - a.y + limits) / (b.x - a.x));
    }
  return most > least ? 0.5 * (most - least) : 0.0;
}

}  // namespace scale::calibration
