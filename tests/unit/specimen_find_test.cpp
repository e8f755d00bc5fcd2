// Bodies found in rendered specimens: what must hold whatever the picture, and what must be refused.
#include <doctest/doctest.h>

#include <scale/specimen.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "micrograph/files.h"
#include "micrograph/render.h"
#include "micrograph/specimen.h"
#include "support/grey_picture.h"
#include "support/within.h"

using namespace scale;

namespace {

constexpr double kEdge = 0.05;   // pixels: bias of a width over a few hundred pixels of edge
constexpr double kSame = 0.015;  // pixels: two ways to the same edge

using Grey = test_support::GreyPicture;

Grey grey_of(const micrograph::Scene& scene) { return test_support::grey_picture(scene); }

micrograph::Scene slide(std::uint64_t seed, int width = 640, int height = 480) {
  micrograph::Scene scene = micrograph::empty_slide(seed);
  scene.width = width, scene.height = height;
  return scene;
}

micrograph::Scene slide_with_fibre(double width, double blur, std::uint64_t seed = 7) {
  micrograph::Scene scene = slide(seed);
  scene.optics.gaussian_px = blur;
  scene.bodies.push_back(micrograph::arc_fibre(320.3, 240.7, 23.0, 430.0, width));
  return scene;
}

double width_of(const Body& fibre) {
  double sum = 0.0;
  int count = 0;
  for (const LocalWidth& local : fibre.widths)
    if (local.used) sum += std::hypot(local.left.x - local.right.x, local.left.y - local.right.y), ++count;
  return sum / count;
}

const Body& only(const SpecimenReading& reading) {
  REQUIRE_MESSAGE(reading.bodies.size() == 1, "bodies: ", reading.bodies.size());
  return reading.bodies.front();
}

std::string refusal(const Grey& grey) {
  const SpecimenReading reading = find_bodies(grey.view());
  CHECK(reading.bodies.empty());
  return reading.failure ? reading.failure->code : "";
}

bool warned(const SpecimenReading& reading, const std::string& code) {
  return std::any_of(reading.warnings.begin(), reading.warnings.end(),
                     [&](const Warning& w) { return w.code == code; });
}

}  // namespace

TEST_CASE("the width of a fibre does not hang on the level at which it is found") {
  for (const double rim : {0.0, 3.5}) {
    micrograph::Scene scene = slide_with_fibre(30.0, 1.2);
    scene.bodies[0].rim_px = rim, scene.bodies[0].middle = rim > 0.0 ? -0.2 : 0.0;
    scene.ground.level = 0.65;
    const Grey grey = grey_of(scene);
    SpecimenOptions options;
    const double usual = width_of(only(find_bodies(grey.view(), options)));
    for (const double level : {0.25, 0.5, 0.6}) {
      options.finding_level = level;
      CHECK(within(width_of(only(find_bodies(grey.view(), options))), usual, kSame));
    }
  }
}

TEST_CASE("dark and bright, transposed and deeper pictures give the same width") {
  const Grey grey = grey_of(slide_with_fibre(24.0, 1.1));
  const double usual = width_of(only(find_bodies(grey.view())));
  CHECK(within(usual, 24.0, kEdge));

  Grey negative = grey;
  for (auto& sample : negative.samples) sample = static_cast<std::uint8_t>(255 - sample);
  const SpecimenReading bright = find_bodies(negative.view());
  CHECK_FALSE(bright.bodies_dark);
  CHECK(within(width_of(only(bright)), usual, 1e-3));

  Grey turned{std::vector<std::uint8_t>(grey.samples.size()), grey.height, grey.width};
  for (int y = 0; y < grey.height; ++y)
    for (int x = 0; x < grey.width; ++x) turned.samples[x * grey.height + y] = grey.samples[y * grey.width + x];
  CHECK(within(width_of(only(find_bodies(turned.view()))), usual, kSame));

  std::vector<std::uint16_t> deep(grey.samples.begin(), grey.samples.end());
  for (auto& sample : deep) sample = static_cast<std::uint16_t>(sample * 257);
  const ImageView view{deep.data(), grey.width, grey.height, grey.width * 2, SampleType::u16, 65535.0};
  CHECK(within(width_of(only(find_bodies(view))), usual, 5e-3));
}

TEST_CASE("between two and four blurs the width is corrected with the known blur, below two it is refused") {
  // Pixel and interpolation widen the blur that the picture's edges show: 2.5 becomes 2.53.
  constexpr double kBlur = 2.5, kSeen = 2.53;
  for (const double ratio : {2.4, 3.0, 4.0}) {
    SpecimenOptions options;
    options.edge_blur_px = kSeen;
    const SpecimenReading reading = find_bodies(grey_of(slide_with_fibre(ratio * kBlur, kBlur)).view(), options);
    const double width = width_of(only(reading));
    CHECK(within(width, ratio * kBlur, 0.12));
    // Uncorrected it would be off by what method tables say: 0.33 blurs at three.
    CHECK(only(reading).blur_correction_px < -0.05 * kBlur);
  }
  SpecimenOptions options;
  options.edge_blur_px = kSeen;
  options.least_width_px = 3.0;
  const SpecimenReading reading = find_bodies(grey_of(slide_with_fibre(1.5 * kBlur, kBlur)).view(), options);
  CHECK(reading.bodies.empty());
  REQUIRE(reading.failure);
  CHECK(reading.failure->code == "unresolved");
}

TEST_CASE("a fibre that leaves the frame keeps its width, and a fibre under another stays one") {
  micrograph::Scene scene = slide(3);
  scene.bodies.push_back(micrograph::arc_fibre(320, 240, 20.0, 1500.0, 20.0));
  scene.bodies.push_back(micrograph::arc_fibre(300, 250, 95.0, 380.0, 28.0));
  const SpecimenReading reading = find_bodies(grey_of(scene).view());
  REQUIRE(reading.bodies.size() == 2);
  const bool first_leaves = reading.bodies[0].at_border;
  const Body& through = reading.bodies[first_leaves ? 0 : 1];
  const Body& inside = reading.bodies[first_leaves ? 1 : 0];
  CHECK(through.at_border);
  CHECK_FALSE(inside.at_border);
  CHECK(through.crossed);
  CHECK(within(width_of(through), 20.0, kEdge));
  CHECK(within(width_of(inside), 28.0, kEdge));
}

TEST_CASE("a fibre along the pixels is found wherever it lies between them") {
  // Where its middle line lies between two columns of the silhouette, both are as far from its edges.
  for (const double share : {0.0, 0.25, 0.45, 0.5, 0.55, 0.75})
    for (const double angle : {0.0, 90.0})
      for (const double length : {300.0, 1500.0}) {  // within the frame, and through it
        CAPTURE(share);
        CAPTURE(angle);
        CAPTURE(length);
        micrograph::Scene scene = slide(5);
        scene.bodies.push_back(micrograph::arc_fibre(320.0 + share, 240.0 + share, angle, length, 30.0));
        const SpecimenReading reading = find_bodies(grey_of(scene).view());
        CHECK(within(width_of(only(reading)), 30.0, kEdge));
      }
}

TEST_CASE("a fibre that goes under the end of a thicker one and comes out again is one fibre") {
  // The thin one enters the thick one's round end at 22 degrees, so that their middle lines run into each other there.
  const SpecimenReading reading =
      find_bodies(grey_of(micrograph::random_specimen(micrograph::SpecimenClass::fibre_mat, 1)).view());
  CHECK(reading.bodies.size() == 5);
}

namespace {

// Bright, sharp, across the whole picture through (x, y), as a scratch in the slide or a drawn line is.
void draw_line(Grey& grey, double x, double y, double angle_deg, double width) {
  const double c = std::cos(angle_deg * std::numbers::pi / 180.0), s = std::sin(angle_deg * std::numbers::pi / 180.0);
  for (int row = 0; row < grey.height; ++row)
    for (int column = 0; column < grey.width; ++column)
      if (std::abs((row - y) * c - (column - x) * s) < 0.5 * width) grey.samples[row * grey.width + column] = 250;
}

}  // namespace

TEST_CASE("a bright scratch or line over a fibre does not make it two, and is no edge of it") {
  for (const double angle : {-67.0, -20.0, 80.0})
    for (const double width : {3.0, 8.0}) {
      CAPTURE(angle);
      CAPTURE(width);
      Grey grey = grey_of(slide_with_fibre(24.0, 1.1));
      draw_line(grey, 300.0, 232.0, angle, width);
      const Body body = only(find_bodies(grey.view()));
      CHECK(within(width_of(body), 24.0, kEdge));
      CHECK(body.crossed);
      CHECK_FALSE(body.end_hidden);
      CHECK(body.centre.size() > 400);
    }
}

TEST_CASE("two fibres end to end with ground between them stay two") {
  for (const double gap : {6.0, 12.0, 30.0}) {
    micrograph::Scene scene = slide(7);
    scene.bodies.push_back(micrograph::arc_fibre(160.0, 240.0, 0.0, 240.0, 24.0));
    scene.bodies.push_back(micrograph::arc_fibre(424.0 + gap, 240.0, 0.0, 240.0, 24.0));
    CAPTURE(gap);
    CHECK(find_bodies(grey_of(scene).view()).bodies.size() == 2);
  }
}

TEST_CASE("uneven ground, dirt and marks burnt in add no fibre") {
  micrograph::Scene scene = slide_with_fibre(26.0, 1.3);
  scene.shading.linear_x = 0.25, scene.shading.vignette = 0.35, scene.shading.mottle = 0.01;
  scene.clutter.dirt = 20, scene.clutter.strength = 0.5;
  scene.clutter.texts = 2, scene.clutter.bars = 1;
  const SpecimenReading reading = find_bodies(grey_of(scene).view());
  CHECK(within(width_of(only(reading)), 26.0, 0.1));
  CHECK((warned(reading, "specks") || warned(reading, "drawn-marks")));
}

TEST_CASE("letters in a box that hides half the width of a fibre do not cut it in two") {
  for (const std::uint8_t paper : {std::uint8_t{0}, std::uint8_t{255}}) {
    CAPTURE(static_cast<int>(paper));
    Grey grey = grey_of(slide_with_fibre(24.0, 1.1));
    for (int y = 250; y < 280; ++y)
      for (int x = 330; x < 430; ++x)
        grey.samples[y * grey.width + x] =
            static_cast<std::uint8_t>(x % 16 < 3 && y > 254 && y < 275 ? 255 - paper : paper);
    const SpecimenReading reading = find_bodies(grey.view());
    const Body& body = only(reading);
    CHECK(within(width_of(body), 24.0, kEdge));
    CHECK(body.centre.size() > 400);
    CHECK(warned(reading, "drawn-marks"));
  }
}

TEST_CASE("overexposed ground has even patches, and none of them is a drawn mark") {
  micrograph::Scene scene = slide_with_fibre(24.0, 1.1);
  scene.ground.level = 0.97, scene.shading.linear_x = 0.1;
  scene.sensor.read_noise = 4.0;
  const SpecimenReading reading = find_bodies(grey_of(scene).view());
  CHECK_FALSE(warned(reading, "drawn-marks"));
  CHECK(warned(reading, "saturated"));
}

TEST_CASE("ground that a fibre cuts off from the rest is no body, though the light is not even") {
  // One of its fibres goes from frame to frame, and the corners beyond it are darker by 4 % of the fibres' contrast.
  const micrograph::Scene scene = micrograph::random_specimen(micrograph::SpecimenClass::bright_fibres, 18);
  CHECK(find_bodies(grey_of(scene).view()).bodies.size() == scene.bodies.size());
}

TEST_CASE("a round field is a frame as well") {
  micrograph::Scene scene = slide(11);
  scene.bodies.push_back(micrograph::arc_fibre(320.3, 180.7, 10.0, 1500.0, 22.0));
  scene.bodies.push_back(micrograph::arc_fibre(320.3, 300.7, -8.0, 180.0, 30.0));
  scene.field = {true, 320.0, 240.0, 230.0, 2.0, 0.02};
  const SpecimenReading reading = find_bodies(grey_of(scene).view());
  REQUIRE(reading.bodies.size() == 2);
  CHECK(reading.bodies[0].at_border);
  CHECK_FALSE(reading.bodies[1].at_border);
  CHECK(within(width_of(reading.bodies[0]), 22.0, kEdge));
  CHECK(within(width_of(reading.bodies[1]), 30.0, kEdge));
}

TEST_CASE("pictures without a body say why and give no row") {
  CHECK(refusal(grey_of(slide(1))) == "no-bodies");
  micrograph::Scene noisy = slide(2);
  noisy.sensor.read_noise = 40.0;
  CHECK(refusal(grey_of(noisy)) == "no-bodies");
  micrograph::Scene dark = slide(3);
  dark.ground.level = 0.004;
  dark.sensor.read_noise = 1.0;
  CHECK(refusal(grey_of(dark)) == "too-dark");
  CHECK(refusal({std::vector<std::uint8_t>(640 * 480, 120), 640, 480}) == "no-bodies");
  CHECK(refusal({std::vector<std::uint8_t>(640 * 480, 255), 640, 480}) == "saturated");
  CHECK(refusal({std::vector<std::uint8_t>(12 * 12, 80), 12, 12}) == "too-small");
  CHECK_THROWS_AS(find_bodies(ImageView{}), std::invalid_argument);
}

TEST_CASE("touching grains are one body until they are to be parted, and then told") {
  micrograph::Scene scene = slide(5);
  scene.bodies.push_back(micrograph::ellipse_grain(250, 240, 40, 40, 0));
  scene.bodies.push_back(micrograph::ellipse_grain(322, 240, 36, 36, 0));
  const Grey grey = grey_of(scene);
  CHECK(only(find_bodies(grey.view())).kind == BodyKind::grain);
  SpecimenOptions options;
  options.part = true;
  const SpecimenReading reading = find_bodies(grey.view(), options);
  REQUIRE(reading.bodies.size() == 2);
  for (const Body& body : reading.bodies) CHECK(body.parted);
}

TEST_CASE("a grain that the frame cuts is flagged") {
  micrograph::Scene scene = slide(6);
  scene.bodies.push_back(micrograph::ellipse_grain(10, 240, 40, 40, 0));
  CHECK(only(find_bodies(grey_of(scene).view())).at_border);
}

TEST_CASE("edges along a line lie where the layers meet") {
  // A coating: a bar 60.4 px thick, crossed at a right angle; its neighbours are the ground.
  micrograph::Scene scene = slide(8);
  scene.bodies.push_back(micrograph::arc_fibre(320.0, 240.2, 0.0, 1500.0, 60.4));
  const SpecimenReading reading = find_across(grey_of(scene).view(), {300.0, 100.0}, {300.0, 400.0}, 21.0);
  const Body& layer = only(reading);
  CHECK(layer.kind == BodyKind::across);
  CHECK(within(layer.widths[0].left.y, 240.2 - 30.2, kEdge));
  CHECK(within(layer.widths[0].right.y, 240.2 + 30.2, kEdge));

  const SpecimenReading nothing = find_across(grey_of(slide(9)).view(), {300.0, 100.0}, {300.0, 400.0}, 21.0);
  REQUIRE(nothing.failure);
  CHECK(nothing.failure->code == "no-edges");
  const SpecimenReading outside = find_across(grey_of(slide(9)).view(), {300.0, 100.0}, {300.0, 600.0}, 21.0);
  REQUIRE(outside.failure);
  CHECK(outside.failure->code == "line-outside");
  CHECK(outside.failure->message.find("640 x 480") != std::string::npos);
}

TEST_CASE("a line narrower than two blurs has no width along a line, and says so") {
  micrograph::Scene scene = slide(10);
  scene.optics.gaussian_px = 2.5;
  scene.bodies.push_back(micrograph::arc_fibre(320.0, 140.2, 0.0, 1500.0, 3.0));
  const SpecimenReading alone = find_across(grey_of(scene).view(), {300.0, 60.0}, {300.0, 220.0}, 21.0);
  CHECK(alone.bodies.empty());
  REQUIRE(alone.failure);
  CHECK(alone.failure->code == "unresolved");

  // Beside a layer that is wide enough the layer stays, and the warning names the first of three intervals.
  scene.bodies.push_back(micrograph::arc_fibre(320.0, 300.2, 0.0, 1500.0, 60.4));
  const SpecimenReading both = find_across(grey_of(scene).view(), {300.0, 60.0}, {300.0, 400.0}, 21.0);
  CHECK_FALSE(both.failure);
  REQUIRE(both.bodies.size() == 2);
  CHECK(within(both.bodies[1].widths[0].left.y, 300.2 - 30.2, kEdge));
  CHECK(within(both.bodies[1].widths[0].right.y, 300.2 + 30.2, kEdge));
  REQUIRE(both.warnings.size() == 1);
  CHECK(both.warnings[0].code == "unresolved");
  CHECK(both.warnings[0].message.find("of 3 intervals no. 1:") != std::string::npos);
}

TEST_CASE("distances along a line in an overexposed or soft picture come with the warnings that bodies have") {
  const auto codes_of = [](const micrograph::Scene& scene) {
    std::vector<std::string> codes;
    const SpecimenReading reading = find_across(grey_of(scene).view(), {300.0, 100.0}, {300.0, 400.0}, 21.0);
    CHECK(reading.bodies.size() == 1);
    for (const Warning& warning : reading.warnings) codes.push_back(warning.code);
    return codes;
  };
  micrograph::Scene scene = slide(8);
  scene.bodies.push_back(micrograph::arc_fibre(320.0, 240.2, 0.0, 1500.0, 120.4));
  CHECK(codes_of(scene).empty());
  micrograph::Scene bright = scene;
  bright.ground.level *= 2.0;
  CHECK(codes_of(bright) == std::vector<std::string>{"saturated"});
  micrograph::Scene soft = scene;
  soft.optics.gaussian_px = 8.0;
  CHECK(codes_of(soft) == std::vector<std::string>{"blurred"});
}
