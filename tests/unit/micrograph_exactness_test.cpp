// The renderer's closed forms against brute force: finely sampled pixels, blur and bars written anew here.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "micrograph/image.h"
#include "micrograph/render.h"
#include "micrograph/scene.h"
#include "micrograph/truth.h"
#include "support/within.h"

using namespace micrograph;

namespace {

constexpr double kShareOfContrast = 1e-5;  // the accuracy promised for a pixel; the samples below are exact to 4e-6
constexpr double kCentrePx = 1e-4;         // the accuracy promised for a line's position
// Where the magnification changes by f'' a pixel across a line, its centre of darkness lies 1.5 f'' s^2 from the
// picture of its centre, s^2 the profile's variance: 2.3e-4 px for the strongest distortion and the thin line drawn
// here, 2.7e-4 along a row that cuts it at 60 degrees.
constexpr double kBentCentrePx = 3e-4;
constexpr double kDegree = std::numbers::pi / 180.0;

Scene bare(int width, int height) {
  Scene scene;
  scene.width = width;
  scene.height = height;
  scene.ground = {1.0, 1.0, Polarity::dark_on_bright};
  return scene;
}

LineScale one_line(double x, double y, double angle_deg, double width, double length) {
  LineScale scale;
  scale.angle_deg = angle_deg;
  scale.origin_x = x;
  scale.origin_y = y;
  scale.count = 1;
  scale.line_width_px = width;
  scale.levels = Levels::all_equal;
  scale.short_px = length;
  scale.two_sided = true;
  return scale;
}

double normal_share(double from, double to, double sigma) {
  return 0.5 * (std::erf(to / (sigma * std::numbers::sqrt2)) - std::erf(from / (sigma * std::numbers::sqrt2)));
}

/// Mean over a pixel of a Gaussian-blurred rectangle, by the midpoint rule.
double sampled_pixel(const LineScale& line, double sigma, int px, int py) {
  constexpr int kSide = 160;
  const double c = std::cos(line.angle_deg * kDegree);
  const double s = std::sin(line.angle_deg * kDegree);
  double sum = 0.0;
  for (int j = 0; j < kSide; ++j) {
    for (int i = 0; i < kSide; ++i) {
      const double x = px - 0.5 + (i + 0.5) / kSide - line.origin_x;
      const double y = py - 0.5 + (j + 0.5) / kSide - line.origin_y;
      const double u = x * c + y * s;
      const double v = y * c - x * s;
      sum += normal_share(-u - 0.5 * line.line_width_px, -u + 0.5 * line.line_width_px, sigma) *
             normal_share(-v - 0.5 * line.short_px, -v + 0.5 * line.short_px, sigma);
    }
  }
  return sum / (kSide * kSide);
}

double worst_against_sampling(double angle_deg, double sigma) {
  Scene scene = bare(26, 26);
  scene.optics.gaussian_px = sigma;
  scene.scales = {one_line(12.37, 12.81, angle_deg, 3.3, 12.6)};
  const std::vector<float> light = render_clean(scene);
  double worst = 0.0;
  for (int y = 1; y < 26; y += 2) {
    for (int x = y / 2 % 3; x < 26; x += 3) {
      const double expected = 1.0 - sampled_pixel(scene.scales[0], sigma, x, y);
      worst = std::max(worst, std::abs(static_cast<double>(light[y * 26 + x]) - expected));
    }
  }
  return worst;
}

/// Share of a blurred upright bar seen by the pixel at a distance, for any response to an edge at a point.
template <typename Edge>
double upright_bar(const Edge& edge, double distance, double width) {
  constexpr int kSteps = 2000;
  double sum = 0.0;
  for (int i = 0; i < kSteps; ++i) {
    const double u = distance - 0.5 + (i + 0.5) / kSteps;
    sum += edge(u + 0.5 * width) - edge(u - 0.5 * width);
  }
  return sum / kSteps;
}

template <typename Edge>
double gaussian_of(const Edge& edge, double u, double sigma) {
  constexpr int kSteps = 400;
  double sum = 0.0;
  double weights = 0.0;
  for (int i = 0; i <= kSteps; ++i) {
    const double t = -6.0 + 12.0 * i / kSteps;
    const double weight = std::exp(-0.5 * t * t);
    sum += weight * edge(u - sigma * t);
    weights += weight;
  }
  return sum / weights;
}

/// Centre of the darkness of one row (or column) within 20 px of a place.
double centre_of_darkness(const Scene& scene, const std::vector<double>& light, double x, double y, bool by_row) {
  const int fixed = static_cast<int>(std::lround(by_row ? y : x));
  const int middle = static_cast<int>(std::lround(by_row ? x : y));
  double mass = 0.0;
  double moment = 0.0;
  for (int i = middle - 20; i <= middle + 20; ++i) {
    const std::size_t at =
        by_row ? static_cast<std::size_t>(fixed) * scene.width + i : static_cast<std::size_t>(i) * scene.width + fixed;
    mass += 1.0 - light[at];
    moment += (1.0 - light[at]) * (i - middle);
  }
  return middle + moment / mass;
}

/// Largest distance of the drawn lines from the truth, measured across rows or columns at each line's stated centre.
double worst_centre(const Scene& scene, const std::vector<double>& light) {
  const Truth truth = truth_of(scene);
  const TruthAxis& axis = truth.axes.at(0);
  const bool by_row = std::abs(std::cos(axis.direction_deg * kDegree)) > 0.7;
  Scene stored = scene;
  stored.width = truth.width;
  double worst = 0.0;
  int used = 0;
  for (const TruthLine& line : axis.lines) {
    if (line.x < 30 || line.y < 30 || line.x > truth.width - 31 || line.y > truth.height - 31) continue;
    const double run = by_row ? line.y : line.x;  // between two rows the line is straight enough to interpolate
    const double low = std::floor(run);
    const auto at = [&](double r) {
      return by_row ? centre_of_darkness(stored, light, line.x, r, true)
                    : centre_of_darkness(stored, light, r, line.y, false);
    };
    const double centre = at(low) + (run - low) * (at(low + 1.0) - at(low));
    worst = std::max(worst, std::abs(centre - (by_row ? line.x : line.y)));
    ++used;
  }
  CHECK(used >= 5);
  return worst;
}

Scene spread_scale(double angle_deg) {
  Scene scene = bare(640, 600);
  LineScale scale = one_line(320.2, 301.7, angle_deg, 2.2, 150.0);
  scale.count = 9;
  scale.pitch_px = 58.37;
  scale.origin_x -= 4.0 * scale.pitch_px * std::cos(angle_deg * kDegree);
  scale.origin_y -= 4.0 * scale.pitch_px * std::sin(angle_deg * kDegree);
  scene.scales = {scale};
  return scene;
}

double worst_centre_of_light(const Scene& scene) {
  const std::vector<float> light = render_clean(scene);
  return worst_centre(scene, std::vector<double>(light.begin(), light.end()));
}

}  // namespace

TEST_CASE("a blurred line agrees with finely sampled pixels at any angle and blur, its ends included") {
  for (const double angle : {0.0, 3.0, 17.0, 45.0, 90.0, -71.3, 137.0}) {
    for (const double sigma : {0.3, 0.8, 2.5}) {
      CAPTURE(angle);
      CAPTURE(sigma);
      CHECK(within(worst_against_sampling(angle, sigma), 0.0, kShareOfContrast));
    }
  }
}

TEST_CASE("a disc of defocus blurs an edge by the share of its area on one side of a chord") {
  constexpr double kRadius = 4.7;
  Scene scene = bare(41, 5);
  scene.optics.gaussian_px = 0.3;
  scene.optics.disc_px = kRadius;
  scene.scales = {one_line(20.23, 2.0, 0.0, 5.1, 400.0)};
  const auto disc_edge = [](double u) {
    const double t = std::clamp(u / kRadius, -1.0, 1.0);
    return 0.5 + (std::asin(t) + t * std::sqrt(1.0 - t * t)) / std::numbers::pi;
  };
  const auto edge = [&](double u) { return gaussian_of(disc_edge, u, 0.3); };
  const std::vector<float> light = render_clean(scene);
  for (int x = 6; x < 36; ++x) {
    CHECK(within(static_cast<double>(light[2 * 41 + x]), 1.0 - upright_bar(edge, x - 20.23, 5.1), kShareOfContrast));
  }
}

TEST_CASE("a smear is the mean over its length, seen along the scale") {
  Scene scene = bare(41, 5);
  scene.optics.gaussian_px = 0.7;
  scene.optics.motion_px = 7.0;
  scene.optics.motion_angle_deg = 35.0;
  scene.scales = {one_line(20.23, 2.0, 0.0, 5.1, 400.0)};
  const double length = 7.0 * std::cos(35.0 * kDegree);
  const auto edge = [&](double u) {
    double sum = 0.0;
    for (int i = 0; i < 200; ++i) sum += normal_share(-40.0, u - length * ((i + 0.5) / 200 - 0.5), 0.7);
    return sum / 200;
  };
  const std::vector<float> light = render_clean(scene);
  for (int x = 6; x < 36; ++x) {
    CHECK(within(static_cast<double>(light[2 * 41 + x]), 1.0 - upright_bar(edge, x - 20.23, 5.1), kShareOfContrast));
  }
}

TEST_CASE("the centre of a line's darkness lies where the truth says, whatever the angle and the blur") {
  for (const double angle : {0.0, 2.2, 44.0, 46.0, 90.0, -33.0, -88.0}) {
    CAPTURE(angle);
    Scene scene = spread_scale(angle);
    CHECK(within(worst_centre_of_light(scene), 0.0, kCentrePx));
    scene.optics.disc_px = 3.0;
    CHECK(within(worst_centre_of_light(scene), 0.0, kCentrePx));
    scene.optics.motion_px = 4.0;
    scene.optics.motion_angle_deg = 20.0;
    CHECK(within(worst_centre_of_light(scene), 0.0, kCentrePx));
  }
}

TEST_CASE("the centres stay true under distortion, tilt in depth, unequal magnification and changing focus") {
  const std::vector<std::pair<Geometry, double>> fields = {
      {{1.0, 1.0, 0.0, 0.0, 0.02, 0.0, 0.0}, 0.0},    {{1.0, 1.0, 0.0, 0.0, -0.03, 0.0, 0.0}, 0.0},
      {{1.0, 1.0, 0.02, -0.013, 0.0, 0.0, 0.0}, 0.0}, {{1.03, 0.98, 0.0, 0.0, 0.0, 0.0, 0.0}, 0.0},
      {{1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0}, 2.0},     {{1.01, 0.99, 0.01, 0.008, 0.01, 0.0, 0.0}, 1.0}};
  for (const auto& [geometry, focus_gradient] : fields) {
    for (const double angle : {0.0, 12.0, 90.0, -60.0}) {
      CAPTURE(angle);
      CAPTURE(geometry.distortion);
      CAPTURE(focus_gradient);
      Scene scene = spread_scale(angle);
      scene.geometry = geometry;
      scene.optics.focus_gradient = focus_gradient;
      scene.optics.focus_angle_deg = angle;  // along the scale, so that a slanted cut sees one blur on both flanks
      scene.optics.gaussian_px = 0.8;        // less, and the centre of the samples is no longer that of the light
      scene.scales[0].line_width_px = 0.6;
      CHECK(within(worst_centre_of_light(scene), 0.0, kBentCentrePx));
    }
  }
}

TEST_CASE("a focus that hardly changes gives the picture of one that does not change, disc and smear included") {
  for (const double angle : {0.0, 33.0}) {
    Scene scene = bare(120, 100);
    scene.scales = {one_line(60.3, 50.2, angle, 4.4, 40.0)};
    scene.optics.disc_px = 3.0;
    scene.optics.motion_px = 5.0;
    scene.optics.motion_angle_deg = 25.0;
    const std::vector<float> still = render_clean(scene);
    scene.optics.focus_gradient = 1e-6;
    const std::vector<float> changing = render_clean(scene);
    double worst = 0.0;
    for (std::size_t i = 0; i < still.size(); ++i) {
      worst = std::max(worst, std::abs(static_cast<double>(still[i]) - static_cast<double>(changing[i])));
    }
    CHECK(within(worst, 0.0, 2.0 * kShareOfContrast));
  }
}

TEST_CASE("the truth of a resampled picture lies on the resampled lines") {
  constexpr double kKernelRipplePx = 6e-3;  // a widened kernel's mean position ripples with the phase of its taps
  for (const double factor : {0.6, 0.83, 1.4}) {
    Scene scene = spread_scale(2.2);
    scene.optics.gaussian_px = 1.5;
    scene.ground.level = 0.9;  // room for the kernel's overshoot beside the line
    scene.sensor.bits = 16;
    scene.sensor.resample = factor;
    const Image image = render(scene);
    std::vector<double> light;
    for (const std::uint16_t sample : image.samples) light.push_back(sample / 65535.0 / 0.9);
    CHECK(within(worst_centre(scene, light), 0.0, kKernelRipplePx));
  }
}

TEST_CASE("without distortion the pitch is the same everywhere and the positions follow it") {
  Scene scene = spread_scale(-33.0);
  scene.geometry.magnification_x = 1.02;
  const TruthAxis axis = truth_of(scene).axes.at(0);
  CHECK(within(axis.pitch_px, axis.mean_pitch_px, 1e-10));
  for (const TruthLine& line : axis.lines) {
    CHECK(within(line.position - axis.lines[0].position, axis.pitch_px * (line.number - axis.lines[0].number), 1e-9));
  }
}

TEST_CASE("stretching x alone turns and stretches the pitch as the lines' perpendicular distance") {
  // Lines u = k p with u = X cos a + Y sin a and X = x / m lie |grad u|^-1 p apart: elementary calculus.
  constexpr double kStretch = 1.03;
  Scene scene = spread_scale(30.0);
  scene.geometry.magnification_x = kStretch;
  const double gx = std::cos(30.0 * kDegree) / kStretch;
  const double gy = std::sin(30.0 * kDegree);
  const TruthAxis axis = truth_of(scene).axes.at(0);
  CHECK(within(axis.pitch_px, 58.37 / std::hypot(gx, gy), 1e-9));
  CHECK(within(axis.direction_deg, std::atan2(gy, gx) / kDegree, 1e-9));
}
