#include "shot_reading.h"

#include <cmath>

namespace gradus {
namespace {

template <class Line>
void move_line(Line& line, double dx, double dy) {
  line.x1_px += dx, line.x2_px += dx;
  line.y1_px += dy, line.y2_px += dy;
}

// From coordinates of the region to those of the whole picture.
void move_reading(scale::Reading& reading, double dx, double dy) {
  for (scale::Ruling& ruling : reading.rulings) {
    const double along = dx * std::cos(ruling.direction.value) + dy * std::sin(ruling.direction.value);
    ruling.origin_px += along;
    for (scale::Graduation& graduation : ruling.graduations) {
      graduation.position_px += along;
      move_line(graduation, dx, dy);
    }
    for (scale::RejectedLine& line : ruling.rejected) move_line(line, dx, dy);
  }
  for (scale::RejectedLine& line : reading.lines_seen) move_line(line, dx, dy);
}

}  // namespace

scale::Reading read_ruling(const images::Picture& picture, const cv::Rect& region) {
  const scale::ImageView part = scale::crop(picture.view(), region.x, region.y, region.width, region.height);
  scale::Reading reading = scale::find_rulings(part);
  move_reading(reading, region.x, region.y);
  return reading;
}

scale::TwoRulings read_two_rulings(const images::Picture& picture, const cv::Rect& region) {
  scale::TwoRulings two =
      scale::find_two_rulings(scale::crop(picture.view(), region.x, region.y, region.width, region.height));
  move_reading(two.reading, region.x, region.y);
  return two;
}

scale::ShotHints hints_of(const Input& input, const Examination& how, const cv::Rect& region) {
  scale::ShotHints hints;
  hints.frame_x = region.x;
  hints.frame_y = region.y;
  hints.mirrored = how.mirrored;
  for (const scale::LabShots& shots : how.shots) {
    if (!scale::matches_glob(shots.image, input.path)) continue;
    if (!hints.centre) hints.centre = shots.centre;
    if (hints.numbers_run == scale::NumbersRun::unknown) hints.numbers_run = shots.numbers_run;
  }
  return hints;
}

scale::Shot shot_of(const Input& input, const scale::Reading& reading, const scale::ShotHints& hints,
                    const images::Picture& picture) {
  scale::Shot shot{input.path, reading, hints, picture.width, picture.height};
  shot.reading.lines_seen.clear();
  for (scale::Ruling& ruling : shot.reading.rulings) {
    ruling.rejected.clear();
    ruling.profile_offset_px.clear();
    ruling.profile_value.clear();
  }
  return shot;
}

}  // namespace gradus
