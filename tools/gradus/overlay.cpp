#include "overlay.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "canvas.h"
#include "text.h"

namespace gradus {
namespace {

constexpr double kNumeralRoom = 44.0;  // display pixels that a number of three digits needs
constexpr double kArrowLength = 90.0;

// Graduations closer than this on the display would hide the picture under solid lines, so they are laid over
// it half transparent.
constexpr double kDensePitch = 7.0;

int numeral_step(const scale::Ruling& ruling, double magnification) {
  const double pitch = ruling.pitch_px * magnification;
  if (pitch >= kNumeralRoom) return 1;
  for (const int step : {5, 10, 50, 100, 500})
    if (step * pitch >= kNumeralRoom) return step;
  return 1000;
}

// From the upper end of an upright graduation, or the left end of a lying one, to the other.
struct Ends {
  cv::Point2d first, second;
};

Ends ends_of(const scale::Graduation& line, const Display& display) {
  const cv::Point2d one = display.at(line.x1_px, line.y1_px), other = display.at(line.x2_px, line.y2_px);
  const bool upright = std::abs(one.y - other.y) >= std::abs(one.x - other.x);
  const bool one_first = upright ? one.y < other.y : one.x < other.x;
  return one_first ? Ends{one, other} : Ends{other, one};
}

// Whether short and long graduations are level at their second ends and not at their first, beside which the numerals
// of the scale then stand.
bool level_at_second(const scale::Ruling& ruling, const Display& display) {
  if (ruling.graduations.empty()) return false;
  const cv::Point2d along{-std::sin(ruling.direction.value), std::cos(ruling.direction.value)};
  const auto spread = [&](cv::Point2d Ends::*end) {
    double least = 1e300, most = -1e300;
    for (const scale::Graduation& line : ruling.graduations) {
      const double place = (ends_of(line, display).*end).dot(along);
      least = std::min(least, place), most = std::max(most, place);
    }
    return most - least;
  };
  return spread(&Ends::second) < 0.5 * spread(&Ends::first);
}

// Beyond the end at which graduations are level, or the first.
cv::Point2d numeral_place(const Ends& ends, bool at_second) {
  const cv::Point2d from = at_second ? ends.first : ends.second, to = at_second ? ends.second : ends.first;
  constexpr double kBeyond = 14.0;
  return to + (to - from) * (kBeyond / std::max(1.0, cv::norm(to - from)));
}

void draw_numeral(Display& display, const Ends& ends, bool at_second, const std::string& numeral) {
  const cv::Size extent = canvas::text_extent(numeral);
  const cv::Point2d centre = numeral_place(ends, at_second);
  constexpr int kRim = 3;
  const int x =
      std::clamp(cvRound(centre.x) - extent.width / 2, kRim, std::max(kRim, display.canvas.cols - extent.width - kRim));
  const int y = std::clamp(cvRound(centre.y) + extent.height / 2, extent.height + kRim,
                           std::max(extent.height + kRim, display.canvas.rows - kRim));
  canvas::write_rimmed(display.canvas, numeral, {x, y});
}

cv::Point2d direction_vector(double angle_rad) { return {std::cos(angle_rad), std::sin(angle_rad)}; }

void draw_rejected(Display& display, const std::vector<scale::RejectedLine>& lines) {
  for (const scale::RejectedLine& line : lines)
    canvas::dashed_line(display.canvas, display.at(line.x1_px, line.y1_px), display.at(line.x2_px, line.y2_px),
                        canvas::kVermillion, 2);
}

const cv::Scalar& ink_of(const scale::Ruling& ruling, bool second) {
  if (second) return ruling.dark_on_bright ? canvas::kGreen : canvas::kYellow;
  return ruling.dark_on_bright ? canvas::kBlue : canvas::kSkyBlue;
}

void draw_graduation_lines(Display& display, const scale::Ruling& ruling, const cv::Scalar& ink) {
  // Narrower than the ruled line where that is possible, so that its flanks can be compared.
  const int thickness = ruling.line_width_px * display.magnification >= 3.0 ? 2 : 1;
  const bool dense = ruling.pitch_px * display.magnification < kDensePitch;
  cv::Mat layer = dense ? display.canvas.clone() : display.canvas;
  for (const scale::Graduation& line : ruling.graduations) {
    const cv::Point2d from = display.at(line.x1_px, line.y1_px), to = display.at(line.x2_px, line.y2_px);
    if (line.used)
      canvas::line(layer, from, to, ink, thickness);
    else
      canvas::dashed_line(layer, from, to, canvas::kVermillion, 2);
  }
  if (dense) cv::addWeighted(layer, 0.5, display.canvas, 0.5, 0.0, display.canvas);
}

}  // namespace

std::string second_ink_name(const scale::Ruling& ruling) { return ruling.dark_on_bright ? "green" : "yellow"; }

void draw_ruling(Display& display, const scale::Ruling& ruling, const scale::Numbering& numbering,
                 const std::string& mark) {
  draw_graduation_lines(display, ruling, ink_of(ruling, !mark.empty()));
  draw_rejected(display, ruling.rejected);
  const int step = numeral_step(ruling, display.magnification);
  const bool at_second = level_at_second(ruling, display);
  for (const scale::Graduation& line : ruling.graduations) {
    const int number = numbering.known ? numbering.first + numbering.step * line.index : line.index;
    if (number % step == 0) draw_numeral(display, ends_of(line, display), at_second, mark + std::to_string(number));
  }
}

void draw_direction(Display& display, const scale::Ruling& ruling, int slot, const std::string& name) {
  const cv::Point2d along = direction_vector(ruling.direction.value);
  const double length = std::min(kArrowLength, 0.3 * std::min(display.canvas.cols, display.canvas.rows));
  // In the lower left corner, inside at any angle, with the angle written beneath.
  const double reach = 0.5 * length + 12.0;
  const double half_height = 0.5 * length * std::abs(along.y) + 8.0;
  const cv::Point2d middle{reach + 4.0 + slot * 2.0 * reach, display.canvas.rows - half_height - 26.0};
  canvas::rimmed_arrow(display.canvas, middle - along * (0.5 * length), middle + along * (0.5 * length), canvas::kInk);
  const std::string angle = fixed(scale::degrees(ruling.direction), 2) + " deg";
  const int x = cvRound(middle.x) - canvas::text_extent(angle).width / 2;
  canvas::write_rimmed(display.canvas, angle, {std::max(3, x), display.canvas.rows - 8});
  if (name.empty()) return;
  const int start = cvRound(middle.x) - canvas::text_extent(name).width / 2;
  canvas::write_rimmed(display.canvas, name, {std::max(3, start), cvRound(middle.y - half_height) - 4});
}

void draw_attempt(Display& display, const scale::Reading& reading) {
  draw_rejected(display, reading.lines_seen);
  const double length = 0.25 * std::min(display.canvas.cols, display.canvas.rows);
  const cv::Point2d middle{0.5 * display.canvas.cols, 0.5 * display.canvas.rows};
  std::vector<double> labelled;
  for (const double angle : reading.directions_tried_deg) {
    const cv::Point2d along = direction_vector(scale::radians_from_degrees(angle).value);
    canvas::rimmed_arrow(display.canvas, middle - along * length, middle + along * length, canvas::kInk);
    // Words on neighbouring tips would cover each other; the list beneath the picture has them all.
    constexpr double kRoom = 8.0;
    const auto close = [&](double other) { return std::abs(angle - other) < kRoom; };
    if (std::any_of(labelled.begin(), labelled.end(), close)) continue;
    labelled.push_back(angle);
    const cv::Point2d tip = middle + along * (length + 8.0);
    canvas::write_rimmed(display.canvas, fixed(angle, 1) + " deg", {cvRound(tip.x), cvRound(tip.y)});
  }
}

}  // namespace gradus
