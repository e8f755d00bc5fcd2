// Pieces of one scale, told from two scales.
#include <doctest/doctest.h>

#include <opencv2/core.hpp>

#include "ruling/extent.h"
#include "ruling/scale_views.h"

using namespace scale;

namespace {

Ruling piece(double pitch, double left, int lines, double top, double bottom) {
  Ruling ruling;
  ruling.origin_px = left, ruling.pitch_px = pitch;
  for (int i = 0; i < lines; ++i) {
    Graduation line;
    line.index = i;
    line.x1_px = line.x2_px = line.position_px = left + i * pitch;
    line.y1_px = top, line.y2_px = bottom;
    ruling.graduations.push_back(line);
  }
  return ruling;
}

bool follow(const Ruling& a, const Ruling& b) { return follow_each_other(extent_of(a), extent_of(b)); }

}  // namespace

TEST_CASE("Both halves of a bent scale follow each other in one strip, and two scales do not") {
  const Ruling left = piece(8.43, 115.0, 62, 355.0, 490.0), right = piece(8.45, 628.0, 58, 358.0, 463.0);
  CHECK(follow(left, right));
  CHECK(follow(right, left));
  CHECK(!follow(left, piece(9.6, 628.0, 50, 358.0, 463.0)));   // of another pitch
  CHECK(!follow(left, piece(8.45, 628.0, 58, 520.0, 640.0)));  // in another strip
  CHECK(!follow(left, piece(8.45, 300.0, 58, 358.0, 463.0)));  // beside each other for most of the way
}

TEST_CASE("Upper and lower ends of one scale's lines are one scale though a tilted camera changes the pitch") {
  const cv::Mat picture(800, 1300, CV_8U, cv::Scalar(200));
  Ruling upper = piece(10.821, 106.0, 101, 355.0, 410.0);
  const Ruling lower = piece(10.839, 105.1, 101, 545.0, 600.0);
  CHECK(resolvable(picture, upper, lower));
  upper.pitch_growth_per_px = 8e-6;  // of 190 pixels makes as much as they differ
  CHECK(!resolvable(picture, upper, lower));
  CHECK(resolvable(picture, upper, piece(10.95, 105.1, 101, 545.0, 600.0)));   // slips by more than a division
  CHECK(resolvable(picture, upper, piece(10.839, 110.0, 101, 545.0, 600.0)));  // half a division beside it
}
