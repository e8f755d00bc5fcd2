// The reticle's division from a picture: which scale it is, and what a camera held askew does to the ratio.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <vector>

#include <scale/opencv.h>
#include <scale/reticle_picture.h>

#include "support/within.h"

using namespace scale;

namespace {

// Relative: lines are drawn exactly but for rounding to grey values.
constexpr double kDrawnTolerance = 2e-5;

constexpr int kWidth = 1200, kHeight = 400;

// Lines of a scale on the object, which a camera held askew sees by r -> r / (1 + tilt . r), r from the frame's middle.
struct OnObject {
  double pitch, origin, width;
  int count;
  double top, bottom;

  double shadow(double u, double v) const {
    if (v < top || v > bottom) return 0.0;
    const double index = std::clamp(std::round((u - origin) / pitch), 0.0, count - 1.0);
    const double off = u - origin - index * pitch, root = std::sqrt(2.0);
    return 0.3 * (std::erf((off + 0.5 * width) / root) - std::erf((off - 0.5 * width) / root));
  }
};

cv::Mat seen_askew(const std::vector<OnObject>& scales, double tilt_x, double tilt_y) {
  cv::Mat picture(kHeight, kWidth, CV_8U);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double px = x - 0.5 * (kWidth - 1), py = y - 0.5 * (kHeight - 1);
      const double depth = 1.0 - tilt_x * px - tilt_y * py;
      double light = 210.0;
      for (const OnObject& scale : scales) light *= 1.0 - scale.shadow(px / depth, py / depth);
      picture.at<unsigned char>(y, x) = static_cast<unsigned char>(std::lround(light));
    }
  return picture;
}

const ReferenceScale kTenUm = [] {
  ReferenceScale scale;
  scale.division = {10.0};
  return scale;
}();

// A ruling as if measured: `lines` of them at `pitch`, between two heights.
Ruling ruled(int lines, double pitch, double top, double bottom) {
  Ruling ruling;
  ruling.origin_px = 50.0, ruling.pitch_px = pitch, ruling.pitch_uncertainty_px = 1e-4;
  ruling.degrees_of_freedom = lines - 2.0, ruling.residual_rms_px = 0.01;
  for (int i = 0; i < lines; ++i) {
    Graduation line;
    line.index = i;
    line.x1_px = line.x2_px = line.position_px = 50.0 + i * pitch;
    line.y1_px = top, line.y2_px = bottom;
    ruling.graduations.push_back(line);
  }
  return ruling;
}

constexpr EndsSeen kWhole{true, true}, kCut{true, false};

TwoRulings two_of(Ruling a, EndsSeen of_a, Ruling b, EndsSeen of_b) {
  TwoRulings two;
  two.reading.width = 1500, two.reading.height = 1000;
  two.reading.rulings = {std::move(a), std::move(b)};
  two.ends = {of_a, of_b};
  return two;
}

// Place of the reticle of 100 divisions; -1 when it is refused. `micrometer`: its divisions, 0 when not stated.
int told(const TwoRulings& two, int micrometer = 0) {
  ReferenceScale scale = kTenUm;
  scale.divisions = micrometer;
  const auto found = calibrate_reticle(two, scale, {100, ReticleIs::unknown});
  if (!found) CHECK(found.error().code == "which-reticle");
  return found ? static_cast<int>(found->reticle) : -1;
}

}  // namespace

// Rows and lines are then not at right angles, and the pitch changes along as well as across: each scale's line through
// a place must be found by the lines' own fan.
TEST_CASE("The ratio of scales side by side holds when the camera is held askew") {
  const OnObject micrometer{23.7, -480.0, 4.0, 34, -150.0, -40.0}, reticle{9.8, -490.0, 2.2, 101, 30.0, 150.0};
  for (const auto& [tilt_x, tilt_y] : {std::pair{0.0, 0.0}, {4e-5, 6e-5}, {-4e-5, 6e-5}, {5e-5, -5e-5}}) {
    CAPTURE(tilt_x);
    CAPTURE(tilt_y);
    const cv::Mat picture = seen_askew({micrometer, reticle}, tilt_x, tilt_y);
    const TwoRulings two = find_two_rulings(view_of(picture));
    REQUIRE(!two.reading.failure);
    const auto found = calibrate_reticle(two, kTenUm, {100, ReticleIs::finer});
    REQUIRE(found);
    const double expected = 10.0 * reticle.pitch / micrometer.pitch;
    CHECK(within(found->um_per_division.value, expected, kDrawnTolerance * expected));
    CHECK(within(found->um_per_division.value, expected, found->um_per_division.expanded_uncertainty));
  }
}

TEST_CASE("Of two scales side by side the reticle is told by its number or not at all") {
  const Ruling hundred = ruled(101, 8.0, 100.0, 200.0), longer = ruled(121, 7.0, 300.0, 400.0),
               shorter = ruled(51, 20.0, 300.0, 400.0), alike = ruled(101, 9.0, 300.0, 400.0);
  CHECK(told(two_of(hundred, kWhole, longer, kWhole)) == 0);
  CHECK(told(two_of(longer, kCut, hundred, kWhole)) == 1);
  CHECK(told(two_of(hundred, kWhole, shorter, kWhole)) == 0);
  CHECK(told(two_of(hundred, kWhole, alike, kWhole)) == -1);
  // It may be a micrometer of 100 divisions, and the other one a reticle in part.
  CHECK(told(two_of(hundred, kWhole, shorter, kCut)) == -1);
}

TEST_CASE("The number of the micrometer's divisions tells more") {
  const Ruling hundred = ruled(101, 8.0, 100.0, 200.0), part = ruled(41, 20.0, 300.0, 400.0),
               fifty = ruled(51, 20.0, 300.0, 400.0);
  CHECK(told(two_of(hundred, kWhole, part, kCut), 50) == 0);
  CHECK(told(two_of(hundred, kWhole, part, kCut), 200) == 0);
  CHECK(told(two_of(hundred, kWhole, part, kCut), 100) == -1);
  CHECK(told(two_of(hundred, kWhole, fifty, kCut), 30) == -1);  // longer than a micrometer of 30
  CHECK(told(two_of(fifty, kWhole, ruled(81, 9.0, 100.0, 200.0), kCut), 50) == 1);
  // A miscount by a few lines must not decide.
  CHECK(told(two_of(hundred, kWhole, part, kCut), 102) == -1);
}

TEST_CASE("Of scales over each other the ends count where nearly all lines before them were measured") {
  const Ruling hundred = ruled(101, 8.0, 100.0, 200.0), fifty = ruled(51, 15.0, 110.0, 190.0);
  CHECK(told(two_of(hundred, kWhole, fifty, kWhole)) == 0);
  CHECK(told(two_of(fifty, kWhole, hundred, kWhole)) == 1);
  CHECK(told(two_of(hundred, kWhole, fifty, kCut)) == -1);
  Ruling doubtful = fifty;
  std::erase_if(doubtful.graduations, [](const Graduation& line) { return line.index == 49 || line.index == 46; });
  CHECK(told(two_of(hundred, kWhole, doubtful, kWhole)) == -1);
  doubtful = hundred;
  std::erase_if(doubtful.graduations, [](const Graduation& line) { return line.index == 1 || line.index == 2; });
  CHECK(told(two_of(doubtful, kWhole, fifty, kWhole)) == -1);
}

TEST_CASE("Lines of a scale that go on at the distance of the one it lies over do not make it longer") {
  const Ruling hundred = ruled(101, 8.0, 100.0, 200.0), longer = ruled(131, 7.8, 110.0, 190.0);
  CHECK(told(two_of(hundred, kWhole, longer, kCut)) == 0);
  Ruling mixed = longer;
  for (Graduation& line : mixed.graduations)
    if (line.index > 110) line.position_px += 0.2 * (line.index - 110);
  CHECK(told(two_of(hundred, kWhole, mixed, kCut)) == -1);
}

TEST_CASE("Coincidences of scales over each other are counted only from ends that nearly all lines before them show") {
  // Zero lines together; ten divisions of the one are seven of the other.
  const Ruling reticle = ruled(101, 7.0, 100.0, 200.0), micrometer = ruled(71, 10.0, 110.0, 190.0);
  const auto coincidences_of = [](const Ruling& own, const Ruling& its) {
    const auto found = calibrate_reticle(two_of(own, kWhole, its, kWhole), kTenUm, {100, ReticleIs::finer});
    REQUIRE(found);
    return found->coincidences;
  };
  const auto all = coincidences_of(reticle, micrometer);
  REQUIRE(all.size() == 11);
  CHECK(all[1].reticle == 10);
  CHECK(all[1].micrometer == 7);
  Ruling doubtful = reticle;
  std::erase_if(doubtful.graduations, [](const Graduation& line) { return line.index == 2 || line.index == 4; });
  CHECK(coincidences_of(doubtful, micrometer).empty());
}
