#include "calibration/numbering.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "support/drawn_ruling.h"

using namespace scale;
using test_support::drawn;
using test_support::DrawnShot;

namespace {

ReferenceScale stage_micrometer() {
  ReferenceScale scale{{10.0}};
  scale.divisions = 100;
  scale.free_ends = FreeEnds::down;
  return scale;
}

Numbering number(const Shot& shot, const ReferenceScale& scale) {
  return calibration::number_graduations(shot.reading.rulings.front(), shot.width, shot.height, scale, shot.hints);
}

DrawnShot magnified(double centre_um) {
  DrawnShot shot;
  shot.um_per_pixel = 0.17;  // some 21 divisions in view
  shot.centre_um = centre_um;
  return shot;
}

// The number of the graduation nearest to a place of the scale, by the numbering, must be its true one.
void check_numbers(const Shot& shot, const Numbering& numbering, int true_first, int true_step) {
  REQUIRE_MESSAGE(numbering.known, numbering.reason);
  CHECK(numbering.first == true_first);
  CHECK(numbering.step == true_step);
  CHECK(shot.reading.rulings.front().graduations.size() > 5);
}

}  // namespace

TEST_CASE("a scale in view from end to end is numbered by its free ends") {
  DrawnShot shot;
  shot.um_per_pixel = 1.725;
  check_numbers(drawn(shot), number(drawn(shot), stage_micrometer()), 0, 1);
  shot.angle_deg = 180.0;
  check_numbers(drawn(shot), number(drawn(shot), stage_micrometer()), 100, -1);
}

TEST_CASE("without a word on the free ends the direction of numbering is not known") {
  ReferenceScale scale = stage_micrometer();
  scale.free_ends = FreeEnds::unknown;
  DrawnShot shot;
  shot.um_per_pixel = 1.725;
  const Numbering numbering = number(drawn(shot), scale);
  CHECK_FALSE(numbering.known);
  CHECK(numbering.reason.find("direction") != std::string::npos);
}

TEST_CASE("one end in view is enough") {
  const Shot shot = drawn(magnified(20.0));
  check_numbers(shot, number(shot, stage_micrometer()), 0, 1);
}

TEST_CASE("without an end the middle must be stated, and half a long interval off is good enough") {
  Shot shot = drawn(magnified(400.0));
  CHECK_FALSE(number(shot, stage_micrometer()).known);
  const int first = static_cast<int>(std::ceil((400.0 - 0.17 * (1279 / 2.0 - 3.0)) / 10.0));
  for (const double stated : {360.0, 400.0, 440.0}) {
    shot.hints.centre = Micrometres{stated};
    check_numbers(shot, number(shot, stage_micrometer()), first, 1);
  }
  shot.hints.centre = Micrometres{460.0};
  CHECK(number(shot, stage_micrometer()).first == first + 10);
}

TEST_CASE("a camera that shows the slide as in a mirror turns the direction of numbering round") {
  ReferenceScale scale = stage_micrometer();
  DrawnShot upright;
  upright.um_per_pixel = 1.725;
  Shot shot = drawn(upright);
  shot.hints.mirrored = true;
  CHECK(number(shot, scale).step == -1);
  scale.free_ends = FreeEnds::up;
  CHECK(number(shot, scale).step == 1);
}

TEST_CASE("graduations of one length leave it open, whatever is stated of the middle") {
  DrawnShot even = magnified(400.0);
  even.levels = false;
  Shot shot = drawn(even);
  shot.hints.centre = Micrometres{400.0};
  CHECK_FALSE(number(shot, stage_micrometer()).known);
}

TEST_CASE("two ends that contradict the number of divisions are not believed") {
  ReferenceScale scale = stage_micrometer();
  scale.divisions = 50;
  DrawnShot shot;
  shot.um_per_pixel = 1.725;
  CHECK_FALSE(number(drawn(shot), scale).known);
}

TEST_CASE("a word on which way the numbers run settles what free ends cannot, and goes before them") {
  ReferenceScale scale = stage_micrometer();
  scale.free_ends = FreeEnds::unknown;
  DrawnShot whole;
  whole.um_per_pixel = 1.725;
  Shot shot = drawn(whole);
  shot.hints.numbers_run = NumbersRun::right;
  CHECK(number(shot, scale).step == 1);
  shot.hints.numbers_run = NumbersRun::left;
  CHECK(number(shot, scale).step == -1);
  // Across the scale the word says nothing.
  shot.hints.numbers_run = NumbersRun::up;
  CHECK_FALSE(number(shot, scale).known);
  whole.angle_deg = 90.0;
  whole.height = 1280;
  shot = drawn(whole);
  shot.hints.numbers_run = NumbersRun::down;
  CHECK(number(shot, scale).step == 1);
}
