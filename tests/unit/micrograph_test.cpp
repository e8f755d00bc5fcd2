// The renderer's random numbers, sensor, classes and files.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include "micrograph/classes.h"
#include "micrograph/files.h"
#include "micrograph/random.h"
#include "micrograph/render.h"
#include "micrograph/truth.h"
#include "support/within.h"

using namespace micrograph;

namespace {

struct Moments {
  double mean, variance, skewness;
};

Moments moments(const std::vector<double>& values) {
  double mean = 0.0;
  for (const double v : values) mean += v / static_cast<double>(values.size());
  double m2 = 0.0;
  double m3 = 0.0;
  for (const double v : values) {
    m2 += (v - mean) * (v - mean) / static_cast<double>(values.size());
    m3 += (v - mean) * (v - mean) * (v - mean) / static_cast<double>(values.size());
  }
  return {mean, m2, m3 / std::pow(m2, 1.5)};
}

template <typename Draw>
std::vector<double> drawn(int count, const Draw& draw) {
  std::vector<double> values;
  for (int i = 0; i < count; ++i) values.push_back(draw());
  return values;
}

Scene flat(int width = 400, int height = 300) {
  Scene scene;
  scene.width = width;
  scene.height = height;
  scene.sensor.bits = 16;
  return scene;
}

Scene plain() {
  Scene scene;
  scene.width = 320;
  scene.height = 240;
  LineScale scale;
  scale.angle_deg = 4.0;
  scale.origin_y = 60.0;
  scene.scales = {scale};
  scene.sensor.read_noise = 1.0;
  return scene;
}

std::vector<double> linear(const Image& image) {
  std::vector<double> values;
  for (const std::uint16_t sample : image.samples)
    values.push_back(sample / static_cast<double>((1 << image.bits) - 1));
  return values;
}

}  // namespace

TEST_CASE("the generator gives the same numbers as a second implementation of its published algorithm") {
  // splitmix64 and xoshiro256++ after Blackman and Vigna, worked out in another language.
  Random random(42);
  CHECK(random.bits() == 0x5b5e4a1bffcbb2f3ULL);
  CHECK(random.bits() == 0xdad6b47570f6111dULL);
  CHECK(random.bits() == 0xaa41d8357b710b2fULL);
}

TEST_CASE("normal numbers have the normal distribution's moments and tail") {
  Random random(7);
  const std::vector<double> values = drawn(1000000, [&] { return random.normal(); });
  const Moments m = moments(values);
  CHECK(within(m.mean, 0.0, 4e-3));        // 4 standard deviations of a mean of a million
  CHECK(within(m.variance, 1.0, 5.7e-3));  // 4 sqrt(2 / n)
  CHECK(within(m.skewness, 0.0, 1e-2));    // 4 sqrt(6 / n)
  const auto beyond = std::count_if(values.begin(), values.end(), [](double v) { return std::abs(v) > 3.6; });
  CHECK(within(static_cast<double>(beyond), 318.2, 72.0));  // erfc(3.6 / sqrt 2) n, within 4 of its square root
}

TEST_CASE("Poisson numbers have variance equal to the mean and skewness one over its square root") {
  for (const double mean : {0.7, 12.0, 29.0, 31.0, 400.0, 20000.0}) {
    Random random(11);
    const Moments m = moments(drawn(400000, [&] { return random.poisson(mean); }));
    CAPTURE(mean);
    CHECK(within(m.mean / mean, 1.0, 5.0 / std::sqrt(mean * 400000.0)));
    CHECK(within(m.variance / mean, 1.0, 0.02));
    CHECK(within(m.skewness, 1.0 / std::sqrt(mean), 0.03));
  }
}

TEST_CASE("the noise of a flat picture is what noise_sd says") {
  Scene scene = flat();
  scene.ground.level = 0.5;
  scene.sensor.full_well = 2000.0;
  scene.sensor.read_noise = 1.2;
  const Moments m = moments(linear(render(scene)));
  const double stated = noise_sd(scene, 0.5);
  CHECK(within(stated, std::sqrt(0.5 / 2000.0 + 1.2 * 1.2 / (255.0 * 255.0)), 1e-12));
  CHECK(within(m.mean, 0.5, 5.0 * stated / std::sqrt(120000.0)));
  CHECK(within(std::sqrt(m.variance) / stated, 1.0, 0.011));  // 5 / sqrt(2 n)
}

TEST_CASE("light beyond full scale is clipped and gamma, depth and pedestal act as stated") {
  Scene scene = flat(8, 8);
  scene.ground.level = 0.25;
  scene.sensor.gamma = 2.0;
  CHECK(within(linear(render(scene)).front(), 0.5, 1e-5));
  scene.sensor.gamma = 1.0;
  scene.sensor.pedestal = 0.1;
  scene.sensor.exposure = 2.0;
  CHECK(within(linear(render(scene)).front(), 0.7, 1e-5));
  scene.sensor.exposure = 9.0;
  for (const int bits : {8, 10, 12, 14, 16}) {
    scene.sensor.bits = bits;
    const Image image = render(scene);
    CHECK(image.bits == bits);
    CHECK(image.samples.front() == (1 << bits) - 1);
  }
}

TEST_CASE("the same scene gives the same picture, another seed another") {
  const Scene scene = plain();
  Scene other = scene;
  other.seed = 2;
  CHECK(render(scene).samples == render(scene).samples);
  CHECK(render(scene).samples != render(other).samples);
  CHECK(develop(other, render_clean(scene)).samples == render(other).samples);
}

TEST_CASE("every knob of a scene changes the picture") {
  const std::vector<std::pair<std::string, std::function<void(Scene&)>>> knobs = {
      {"level", [](Scene& s) { s.ground.level = 0.6; }},
      {"contrast", [](Scene& s) { s.ground.contrast = 0.5; }},
      {"polarity", [](Scene& s) { s.ground.polarity = Polarity::bright_on_dark; }},
      {"angle", [](Scene& s) { s.scales[0].angle_deg = 5.0; }},
      {"pitch", [](Scene& s) { s.scales[0].pitch_px = 21.0; }},
      {"origin", [](Scene& s) { s.scales[0].origin_x = 41.0; }},
      {"count", [](Scene& s) { s.scales[0].count = 7; }},
      {"line width", [](Scene& s) { s.scales[0].line_width_px = 6.0; }},
      {"all equal", [](Scene& s) { s.scales[0].levels = Levels::all_equal; }},
      {"second and tenth", [](Scene& s) { s.scales[0].levels = Levels::second_and_tenth; }},
      {"short", [](Scene& s) { s.scales[0].short_px = 50.0; }},
      {"medium", [](Scene& s) { s.scales[0].medium_px = 80.0; }},
      {"long", [](Scene& s) { s.scales[0].long_px = 130.0; }},
      {"two sided", [](Scene& s) { s.scales[0].two_sided = true; }},
      {"base line", [](Scene& s) { s.scales[0].base_line_px = 3.0; }},
      {"numerals", [](Scene& s) { s.scales[0].numeral_px = 20.0; }},
      {"fine part", [](Scene& s) { s.scales[0].fine_until = 3; }},
      {"pairs", [](Scene& s) { s.scales[0].pair_offset_px = 8.0; }},
      {"amplitude", [](Scene& s) { s.scales[0].amplitude = 0.7; }},
      {"amplitude variation", [](Scene& s) { s.scales[0].amplitude_variation = 0.1; }},
      {"width variation", [](Scene& s) { s.scales[0].width_variation = 0.1; }},
      {"length variation", [](Scene& s) { s.scales[0].length_variation = 0.1; }},
      {"graduation errors", [](Scene& s) { s.scales[0].error_sd_px = 0.2; }},
      {"missing share", [](Scene& s) { s.scales[0].missing_probability = 0.9; }},
      {"broken share", [](Scene& s) { s.scales[0].broken_probability = 0.9; }},
      {"missing", [](Scene& s) { s.scales[0].missing = {4}; }},
      {"broken", [](Scene& s) { s.scales[0].broken = {4}; }},
      {"second scale", [](Scene& s) { s.scales.push_back(s.scales[0]), s.scales[1].angle_deg = 94.0; }},
      {"gaussian", [](Scene& s) { s.optics.gaussian_px = 1.2; }},
      {"disc", [](Scene& s) { s.optics.disc_px = 2.0; }},
      {"motion", [](Scene& s) { s.optics.motion_px = 3.0; }},
      {"motion angle", [](Scene& s) { s.optics.motion_px = 3.0, s.optics.motion_angle_deg = 50.0; }},
      {"relief", [](Scene& s) { s.optics.relief_px = 1.0; }},
      {"relief angle", [](Scene& s) { s.optics.relief_px = 1.0, s.optics.relief_angle_deg = 60.0; }},
      {"focus gradient", [](Scene& s) { s.optics.focus_gradient = 2.0; }},
      {"focus angle", [](Scene& s) { s.optics.focus_gradient = 2.0, s.optics.focus_angle_deg = 90.0; }},
      {"magnification x", [](Scene& s) { s.geometry.magnification_x = 1.01; }},
      {"magnification y", [](Scene& s) { s.geometry.magnification_y = 1.01; }},
      {"tilt x", [](Scene& s) { s.geometry.tilt_x = 0.02; }},
      {"tilt y", [](Scene& s) { s.geometry.tilt_y = 0.02; }},
      {"distortion", [](Scene& s) { s.geometry.distortion = 0.02; }},
      {"linear x", [](Scene& s) { s.shading.linear_x = 0.1; }},
      {"linear y", [](Scene& s) { s.shading.linear_y = 0.1; }},
      {"quadratic", [](Scene& s) { s.shading.quadratic = -0.1; }},
      {"saddle", [](Scene& s) { s.shading.quadratic_xy = 0.1; }},
      {"vignette", [](Scene& s) { s.shading.vignette = 0.3; }},
      {"mottle", [](Scene& s) { s.shading.mottle = 0.03; }},
      {"mottle size", [](Scene& s) { s.shading.mottle = 0.03, s.shading.mottle_px = 90.0; }},
      {"round field", [](Scene& s) { s.field = {true, 160.0, 120.0, 90.0, 2.0, 0.03}; }},
      {"field softness", [](Scene& s) { s.field = {true, 160.0, 120.0, 90.0, 6.0, 0.03}; }},
      {"field outside", [](Scene& s) { s.field = {true, 160.0, 120.0, 90.0, 2.0, 0.1}; }},
      {"ring",
       [](Scene& s) {
         s.ring = {160.0, 120.0, 80.0, 6.0, 1.0};
       }},
      {"bright ring",
       [](Scene& s) {
         s.ring = {160.0, 120.0, 80.0, 6.0, -0.3};
       }},
      {"dirt", [](Scene& s) { s.clutter.dirt = 5; }},
      {"scratches", [](Scene& s) { s.clutter.scratches = 2; }},
      {"fibres", [](Scene& s) { s.clutter.fibres = 2; }},
      {"clutter strength", [](Scene& s) { s.clutter.dirt = 5, s.clutter.strength = 0.3; }},
      {"texts", [](Scene& s) { s.clutter.texts = 2; }},
      {"bars", [](Scene& s) { s.clutter.bars = 2; }},
      {"colour", [](Scene& s) { s.colour.channels = 3; }},
      {"red", [](Scene& s) { s.colour.channels = 3, s.colour.red = 0.7; }},
      {"green", [](Scene& s) { s.colour.channels = 3, s.colour.green = 0.7; }},
      {"blue", [](Scene& s) { s.colour.channels = 3, s.colour.blue = 0.7; }},
      {"lateral red", [](Scene& s) { s.colour.channels = 3, s.geometry.lateral_red = 0.002; }},
      {"lateral blue", [](Scene& s) { s.colour.channels = 3, s.geometry.lateral_blue = 0.002; }},
      {"mosaic", [](Scene& s) { s.colour.channels = 3, s.colour.mosaic = true; }},
      {"full well", [](Scene& s) { s.sensor.full_well = 3000.0; }},
      {"read noise", [](Scene& s) { s.sensor.read_noise = 2.0; }},
      {"exposure", [](Scene& s) { s.sensor.exposure = 1.1; }},
      {"pedestal", [](Scene& s) { s.sensor.pedestal = 0.05; }},
      {"gamma", [](Scene& s) { s.sensor.gamma = 1.3; }},
      {"sharpening", [](Scene& s) { s.sensor.sharpen = 1.0; }},
      {"sharpening width", [](Scene& s) { s.sensor.sharpen = 1.0, s.sensor.sharpen_px = 2.5; }},
      {"resampling", [](Scene& s) { s.sensor.resample = 0.9; }},
      {"depth", [](Scene& s) { s.sensor.bits = 12; }},
      {"JPEG", [](Scene& s) { s.sensor.jpeg_quality = 70; }},
      {"pattern", [](Scene& s) { s.no_scale = NoScale::brickwork; }},
      {"regular pattern", [](Scene& s) { s.no_scale = NoScale::brickwork, s.regular = true; }},
  };
  std::set<std::vector<std::uint16_t>> pictures{render(plain()).samples};
  for (const auto& [name, turn] : knobs) {
    CAPTURE(name);
    Scene scene = plain();
    turn(scene);
    CHECK(pictures.insert(render(scene).samples).second);
  }
}

TEST_CASE("a scene written as text and read again gives the same picture") {
  for (const SceneClass scene_class : {SceneClass::everything, SceneClass::crossed, SceneClass::missing_and_broken}) {
    const Scene scene = random_scene(scene_class, 5);
    CHECK(render(scene_from_json(scene_json(scene))).samples == render(scene).samples);
  }
}

TEST_CASE("a scene with an unknown key, an unknown word or an impossible value is refused") {
  CHECK_THROWS_WITH_AS(scene_from_json(R"({"widht": 3})"), "unknown key \"widht\"", std::invalid_argument);
  CHECK_THROWS_AS(scene_from_json(R"({"scales": [{"pitch": 3}]})"), std::invalid_argument);
  CHECK_THROWS_AS(scene_from_json(R"({"scales": [{"levels": "third"}]})"), std::invalid_argument);
  CHECK_THROWS_AS(scene_from_json(R"({"scales": [{"pitch_px": -3}]})"), std::invalid_argument);
  CHECK_THROWS_AS(scene_from_json(R"({"sensor": {"bits": 12, "jpeg_quality": 80}})"), std::invalid_argument);
  CHECK_THROWS_AS(scene_from_json("[1"), std::invalid_argument);
}

TEST_CASE("every class of scenes has a name of its own, a picture, and enough graduations in view") {
  for (const SceneClass scene_class : all_scene_classes()) {
    CHECK(scene_class_named(name_of(scene_class)) == scene_class);
    const int least = scene_class == SceneClass::few_lines ? 3 : scene_class == SceneClass::large_pitch ? 4 : 5;
    for (std::uint64_t seed = 100; seed < 140; ++seed) {
      const Scene scene = random_scene(scene_class, seed);
      CAPTURE(scene.name);
      CAPTURE(seed);
      CHECK(why_invalid(scene).empty());
      const Truth truth = truth_of(scene);
      CHECK(static_cast<int>(truth.axes.at(0).lines.size()) >= least);
      CHECK(truth.axes[0].pitch_px > 2.2);
      CHECK(truth.axes[0].pitch_px < 805.0);
    }
  }
}

TEST_CASE("a picture without a scale has no axis in its truth and, but for the blank ones, something in it") {
  for (const NoScale kind : all_no_scale()) {
    CHECK(no_scale_named(name_of(kind)) == kind);
    Scene scene = random_no_scale(kind, 3);
    CAPTURE(scene.name);
    CHECK(truth_of(scene).axes.empty());
    CHECK_FALSE(is_fair(truth_of(scene)));
    Scene empty = scene;
    empty.no_scale = NoScale::blank;
    const bool bare = kind == NoScale::blank || kind == NoScale::jpeg_grid;
    CHECK((render_clean(scene) != render_clean(empty)) != bare);
  }
}

TEST_CASE("a missing graduation leaves the ground bright and stands in the truth as missing") {
  Scene scene = plain();
  scene.scales[0].missing = {3};
  const TruthAxis whole = truth_of(plain()).axes.at(0);
  const TruthAxis gap = truth_of(scene).axes.at(0);
  REQUIRE(gap.missing == std::vector<int>{3});
  CHECK(gap.lines.size() + 1 == whole.lines.size());
  const auto at = static_cast<std::size_t>(std::lround(whole.lines[3].y) * scene.width + std::lround(whole.lines[3].x));
  REQUIRE(whole.lines[3].number == 3);
  CHECK(static_cast<double>(render_clean(plain())[at]) < 0.35);
  CHECK(within(static_cast<double>(render_clean(scene)[at]), 0.75, 1e-6));
}

TEST_CASE("relief makes one flank brighter than the ground and the other darker than the line") {
  Scene scene = plain();
  scene.optics.relief_px = 1.5;
  const std::vector<float> light = render_clean(scene);
  CHECK(static_cast<double>(*std::max_element(light.begin(), light.end())) > 0.8);
  CHECK(static_cast<double>(*std::min_element(light.begin(), light.end())) < 0.25);
}

// Far outside the picture the inverse of a distortion turns back on itself: a line that goes on there must not miss
// rows.
TEST_CASE("a line that goes on far beyond a distorted picture is drawn in every row") {
  Scene scene = flat();
  LineScale scale;
  scale.angle_deg = 63.0;
  scale.pitch_px = 90.0;
  scale.origin_x = 200.0 - 3000.0 * std::cos(scale.angle_deg * 3.14159265358979 / 180.0);
  scale.origin_y = 150.0 - 3000.0 * std::sin(scale.angle_deg * 3.14159265358979 / 180.0);
  scale.base_line_px = 16.0;
  scene.scales = {scale};
  scene.geometry.distortion = -0.013;
  const std::vector<float> light = render_clean(scene);
  for (int y = 0; y < scene.height; ++y) {
    CAPTURE(y);
    const auto row = light.begin() + static_cast<std::ptrdiff_t>(y) * scene.width;
    CHECK(static_cast<double>(*std::min_element(row, row + scene.width)) < 0.35);
  }
}

// As far out as that a graduation would come to lie within the picture again, but is not drawn there.
TEST_CASE("graduations far beyond a distorted picture are not in its truth") {
  Scene scene = flat();
  LineScale scale;
  scale.angle_deg = 3.0;
  scale.pitch_px = 50.0;
  scale.origin_x = 20.0;
  scale.origin_y = 150.0;
  scale.count = 80;
  scale.short_px = scale.medium_px = scale.long_px = 280.0;
  scene.scales = {scale};
  scene.geometry.distortion = -0.013;
  const TruthAxis axis = truth_of(scene).axes.front();
  REQUIRE(axis.lines.size() > 4);
  for (const TruthLine& line : axis.lines) CHECK(line.number < 20);
  CHECK(within(axis.pitch_px, 50.0, 1.0));
}
