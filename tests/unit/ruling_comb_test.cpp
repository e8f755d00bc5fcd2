// Two scales in one place, drawn in closed form: light passes one after the other.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "ruling/comb.h"
#include "ruling/comb_block.h"
#include "ruling/comb_pair.h"
#include "ruling/comb_spectrum.h"
#include "support/within.h"

using namespace scale;

namespace {

constexpr int kWidth = 900, kHeight = 300;
constexpr double kGround = 200.0, kBlur = 1.0;
// Pixels: lines are drawn exactly but for rounding to grey values; where two dark lines lie over each other the other
// one is known to a few per cent only.
constexpr double kPitchTolerance = 3e-4;

struct Drawn {
  double pitch, origin, lean, width, depth;
  int count;
  double top, bottom;
};

double through(const Drawn& scale, double x, double y) {
  if (y < scale.top || y > scale.bottom) return 1.0;
  const double t = x - scale.lean * (y - 0.5 * kHeight) - scale.origin;
  const double index = std::clamp(std::round(t / scale.pitch), 0.0, scale.count - 1.0);
  const double off = t - index * scale.pitch, root = std::sqrt(2.0) * kBlur;
  return 1.0 -
         scale.depth * 0.5 * (std::erf((off + 0.5 * scale.width) / root) - std::erf((off - 0.5 * scale.width) / root));
}

cv::Mat picture_of(const std::vector<Drawn>& scales) {
  cv::Mat picture(kHeight, kWidth, CV_8U);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      double light = kGround;
      for (const Drawn& scale : scales) light *= through(scale, x, y);
      picture.at<unsigned char>(y, x) = static_cast<unsigned char>(std::lround(light));
    }
  return picture;
}

// Each row stretched to both sides, by so much more at its ends: as a camera that is held askew shows it.
cv::Mat stretched(const cv::Mat& picture, double by) {
  cv::Mat result(picture.size(), CV_8U, cv::Scalar(kGround));
  for (int y = 0; y < picture.rows; ++y)
    for (int x = 0; x < picture.cols; ++x) {
      const double z = 2.0 * x / (picture.cols - 1.0) - 1.0;
      const double from = 0.5 * (picture.cols - 1) * (z - by * z * z + by + 1.0);
      const int at = static_cast<int>(from);
      if (at < 0 || at + 1 >= picture.cols) continue;
      const double share = from - at, a = picture.at<unsigned char>(y, at), b = picture.at<unsigned char>(y, at + 1);
      result.at<unsigned char>(y, x) = static_cast<unsigned char>(std::lround(a + share * (b - a)));
    }
  return result;
}

const Drawn kFine{11.3, 40.0, 0.0, 2.5, 0.7, 72, 60.0, 220.0};
const Drawn kCoarse{14.9, 35.0, 0.03, 3.0, 0.6, 56, 80.0, 250.0};

// The first lines alone, off by a tenth of a division and without the lean.
CombStart piece_of(const Drawn& scale) {
  CombStart start;
  for (int i = 20; i < 34; ++i) start.index.push_back(i), start.t.push_back(scale.origin + (i + 0.1) * scale.pitch);
  start.v_low = 130.0, start.v_high = 170.0;
  return start;
}

double true_pitch(const Drawn& scale) { return scale.pitch * std::cos(std::atan(scale.lean)); }

}  // namespace

TEST_CASE("A piece of a scale is followed to all its lines through another scale's") {
  const Light light = light_of(picture_of({kFine, kCoarse}), true);
  const auto comb = fit_comb(light, piece_of(kFine));
  REQUIRE(comb);
  // One more at most, where a line of the other scale lies.
  CHECK(comb->lines.size() >= 72);
  CHECK(comb->lines.size() <= 73);
  CHECK(within(as_ruling(*comb).pitch_px, kFine.pitch, 0.01));
}

TEST_CASE("With the other one taken out each of two superposed scales has its own pitch and direction") {
  const Light light = light_of(picture_of({kFine, kCoarse}), true);
  auto fine = fit_comb(light, piece_of(kFine));
  REQUIRE(fine);
  auto coarse = fit_comb(without(light, *fine), piece_of(kCoarse));
  REQUIRE(coarse);
  fine = refit_comb(without(light, *coarse), *fine);
  REQUIRE(fine);
  coarse = refit_comb(without(light, *fine), *coarse);
  REQUIRE(coarse);
  CHECK(fine->lines.size() == 72);
  CHECK(coarse->lines.size() == 56);
  CHECK(believable(*fine));
  CHECK(believable(*coarse));
  const Ruling a = as_ruling(*fine), b = as_ruling(*coarse);
  CHECK(within(a.pitch_px, true_pitch(kFine), kPitchTolerance * kFine.pitch));
  CHECK(within(b.pitch_px, true_pitch(kCoarse), kPitchTolerance * kCoarse.pitch));
  CHECK(within(a.direction.value, 0.0, 1e-3));
  CHECK(within(b.direction.value, -std::atan(kCoarse.lean), 1e-3));
  CHECK(left_over(light, without(without(light, *fine), *coarse), *fine, 0.0) < 0.1);
}

TEST_CASE("A line of which nothing is free is called covered and does not enter") {
  Light light = light_of(picture_of({kFine}), true);
  const int line = static_cast<int>(kFine.origin + 30 * kFine.pitch);
  light.trust(cv::Rect(line - 6, 0, 13, kHeight)).setTo(0.0F);
  const auto comb = fit_comb(light, piece_of(kFine));
  REQUIRE(comb);
  const auto covered = std::find_if(comb->lines.begin(), comb->lines.end(),
                                    [](const CombLine& one) { return one.seen == Seen::covered; });
  REQUIRE(covered != comb->lines.end());
  CHECK(comb->count(Seen::covered) == 1);
  const Ruling ruling = as_ruling(*comb);
  CHECK(ruling.graduations.size() == 71);
  CHECK(ruling.missing == 1);
}

TEST_CASE("Every fifth line leads to the division between them") {
  Drawn fifths = kFine;
  fifths.pitch *= 5.0, fifths.count = 15, fifths.bottom = 270.0;
  const Light light = light_of(picture_of({kFine, fifths}), true);
  CombStart start;
  for (int i = 0; i < 14; ++i) start.index.push_back(i), start.t.push_back(fifths.origin + i * fifths.pitch);
  start.v_low = 230.0, start.v_high = 265.0;
  const auto coarse = fit_comb(light, start);
  REQUIRE(coarse);
  CHECK(within(coarse->pitch(), fifths.pitch, 0.1));
  const auto comb = finest_comb(light, *coarse);
  REQUIRE(comb);
  CHECK(within(comb->pitch(), kFine.pitch, 0.01));
}

// Lines of a fine scale fill the spaces between them with their blur: between its fifth lines, which go on beyond the
// others, they show less than a third as deep.
TEST_CASE("The faint fine lines between fifth lines lead to the division, under another scale too") {
  const Drawn fine{5.2, 40.0, 0.0, 1.0, 0.6, 146, 60.0, 180.0};
  Drawn fifths = fine;
  fifths.pitch *= 5.0, fifths.count = 30, fifths.top = 180.0, fifths.bottom = 270.0;
  CombStart start;
  for (int i = 0; i < 30; ++i) start.index.push_back(i), start.t.push_back(fifths.origin + i * fifths.pitch);
  start.v_low = 190.0, start.v_high = 260.0;
  const Light alone = light_of(picture_of({fine, fifths}), true);
  const auto coarse = fit_comb(alone, start);
  REQUIRE(coarse);
  CHECK(within(coarse->pitch(), fifths.pitch, 0.1));
  const auto comb = finest_comb(alone, *coarse);
  REQUIRE(comb);
  CHECK(within(comb->pitch(), fine.pitch, 0.01));

  const Drawn reticle{10.46, 37.0, 0.0, 2.8, 0.75, 78, 50.0, 260.0};
  const auto pair = find_comb_pair_by_spectrum(picture_of({fine, fifths, reticle}), 255.0, true);
  REQUIRE(pair);
  const double a = pair->rulings[0].pitch_px, b = pair->rulings[1].pitch_px;
  CHECK(within(std::min(a, b), fine.pitch, 2e-3 * fine.pitch));
  CHECK(within(std::max(a, b), reticle.pitch, 2e-3 * reticle.pitch));
}

TEST_CASE(
    "Long lines that stick out of a block of blurred short ones are known by the block, and a base line is none") {
  Drawn fifths{16.5, 40.0, 0.0, 1.2, 0.6, 50, 150.0, 230.0};
  const Drawn blurred{3.3, 40.0, 0.0, 1.2, 0.6, 246, 60.0, 150.0};
  CombStart start;
  for (int i = 0; i < 50; ++i) start.index.push_back(i), start.t.push_back(fifths.origin + i * fifths.pitch);
  start.v_low = 165.0, start.v_high = 215.0;
  const auto sticks_out = [&](const cv::Mat& picture) {
    const Light light = light_of(picture, true);
    const auto comb = fit_comb(light, start);
    REQUIRE(comb);
    CHECK(within(comb->pitch(), fifths.pitch, 0.01));
    return sticks_out_of_block(light, *comb);
  };
  CHECK(sticks_out(picture_of({fifths, blurred})));
  CHECK(!sticks_out(picture_of({fifths})));
  cv::Mat with_base_line = picture_of({fifths});
  with_base_line(cv::Rect(40, 147, 810, 4)).setTo(80);
  CHECK(!sticks_out(with_base_line));
}

TEST_CASE("One scale alone is no pair") {
  const cv::Mat picture = picture_of({kFine});
  const auto comb = fit_comb(light_of(picture, true), piece_of(kFine));
  REQUIRE(comb);
  CHECK(!find_comb_pair(picture, 255.0, {as_ruling(*comb)}));
}

TEST_CASE("A whole pair is found from a piece of one scale") {
  const cv::Mat picture = picture_of({kFine, kCoarse});
  const auto comb = fit_comb(light_of(picture, true), piece_of(kFine));
  REQUIRE(comb);
  const auto pair = find_comb_pair(picture, 255.0, {as_ruling(*comb)});
  REQUIRE(pair);
  CHECK(within(pair->rulings[0].pitch_px, true_pitch(kFine), kPitchTolerance * kFine.pitch));
  CHECK(within(pair->rulings[1].pitch_px, true_pitch(kCoarse), kPitchTolerance * kCoarse.pitch));
  CHECK(!pair->third);
}

// Two thirds of their lines run into each other, and no part of the picture shows one of them alone.
TEST_CASE("Scales of nearly equal pitch over each other are told apart by the spectrum") {
  for (const double pitch : {11.62, 11.9, 12.4}) {
    CAPTURE(pitch);
    Drawn alike = kFine;
    alike.pitch = pitch, alike.origin = 36.0, alike.depth = 0.45, alike.count = 60;
    const auto pair = find_comb_pair_by_spectrum(picture_of({kFine, alike}), 255.0, true);
    REQUIRE(pair);
    const double a = pair->rulings[0].pitch_px, b = pair->rulings[1].pitch_px;
    CHECK(within(std::min(a, b), kFine.pitch, 2e-3 * kFine.pitch));
    CHECK(within(std::max(a, b), pitch, 2e-3 * pitch));
    CHECK(!pair->third);
  }
}

TEST_CASE("The spectrum proposes both scales, where their lines lie and between which heights") {
  const std::vector<CombStart> starts = starts_by_spectrum(light_of(picture_of({kFine, kCoarse}), true), true);
  for (const Drawn& scale : {kFine, kCoarse}) {
    const auto own = std::find_if(starts.begin(), starts.end(), [&](const CombStart& start) {
      return std::abs((start.t[1] - start.t[0]) / true_pitch(scale) - 1.0) < 0.01;
    });
    REQUIRE(own != starts.end());
    CHECK(within(own->direction, -std::atan(scale.lean), 0.01));
    // Half-way down, where x is the origin plus whole pitches.
    const double x = (own->t[0] - 0.5 * kHeight * std::sin(own->direction)) / std::cos(own->direction);
    const double place = (x - scale.origin) / scale.pitch;
    CHECK(within(place, std::round(place), 0.1));
    CHECK(within(own->v_low, scale.top, 24.0));
    CHECK(within(own->v_high, scale.bottom, 24.0));
  }
}

TEST_CASE("What is one scale or a grid is no pair by the spectrum") {
  CHECK(!find_comb_pair_by_spectrum(picture_of({kFine}), 255.0, true));
  // Long lines among short ones.
  Drawn fifths = kFine;
  fifths.pitch *= 5.0, fifths.count = 15, fifths.bottom = 270.0;
  CHECK(!find_comb_pair_by_spectrum(picture_of({kFine, fifths}), 255.0, true));
  // Bent: the pitch grows by a tenth over the field.
  CHECK(!find_comb_pair_by_spectrum(stretched(picture_of({kFine}), 0.05), 255.0, true));
  cv::Mat across = picture_of({kFine}), grid;
  cv::transpose(across, grid);
  cv::Mat square(kWidth, kWidth, CV_8U, cv::Scalar(kGround));
  across.copyTo(square(cv::Rect(0, 300, kWidth, kHeight)));
  for (int y = 0; y < kWidth; ++y)
    for (int x = 0; x < kHeight; ++x) {
      unsigned char& grey = square.at<unsigned char>(y, x + 300);
      grey = static_cast<unsigned char>(std::lround(grey * grid.at<unsigned char>(y, x) / kGround));
    }
  CHECK(!find_comb_pair_by_spectrum(square, 255.0, true));
}

TEST_CASE("A third scale is told") {
  Drawn third = kFine;
  third.pitch = 13.1, third.count = 60, third.top = 225.0, third.bottom = 290.0;
  Drawn second = kCoarse;
  second.bottom = 200.0;
  const auto pair = find_comb_pair_by_spectrum(picture_of({kFine, second, third}), 255.0, true);
  REQUIRE(pair);
  CHECK(pair->third);
  // Near the picture's border, where Hann's window all but closes.
  Drawn at_border = third;
  at_border.top = 2.0, at_border.bottom = 40.0;
  const auto other = find_comb_pair_by_spectrum(picture_of({kFine, second, at_border}), 255.0, true);
  REQUIRE(other);
  CHECK(other->third);
}
