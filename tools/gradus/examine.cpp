#include "examine.h"

#include <scale/register.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <new>
#include <stdexcept>

#include "expectation.h"
#include "outputs.h"

namespace gradus {
namespace {

Outcome refused(const Input& input, scale::Failure reason) {
  Outcome outcome;
  outcome.image = input.path;
  outcome.reason = std::move(reason);
  return outcome;
}

std::string rectangle_words(const cv::Rect& r) {
  return std::to_string(r.x) + ',' + std::to_string(r.y) + ',' + std::to_string(r.width) + ',' +
         std::to_string(r.height);
}

std::optional<scale::Failure> region_failure(const std::optional<cv::Rect>& region, const images::Picture& picture) {
  const cv::Rect whole(0, 0, picture.width, picture.height);
  if (!region || (*region & whole) == *region) return std::nullopt;
  return scale::Failure{"frame", "region-outside",
                        "the region " + rectangle_words(*region) + " reaches beyond the picture's " +
                            std::to_string(picture.width) + " x " + std::to_string(picture.height) +
                            " pixels; give a --region inside it"};
}

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

scale::Reading read_ruling(const images::Picture& picture, const cv::Rect& region) {
  const scale::ImageView part = scale::crop(picture.view(), region.x, region.y, region.width, region.height);
  scale::Reading reading = scale::find_rulings(part);
  move_reading(reading, region.x, region.y);
  return reading;
}

AxisOutcome axis_of(const scale::Ruling& ruling) {
  const auto used = std::count_if(ruling.graduations.begin(), ruling.graduations.end(),
                                  [](const scale::Graduation& graduation) { return graduation.used; });
  return {scale::degrees(ruling.direction), ruling.pitch_px, ruling.pitch_uncertainty_px,
          static_cast<int>(used),           ruling.missing,  ruling.false_alarm};
}

// A file must never hold a number that is none; the engine promises not to make any.
void require_finite(const Outcome& outcome) {
  const scale::Calibration& c = *outcome.calibration;
  bool finite = std::isfinite(c.um_per_pixel.value) && std::isfinite(c.um_per_pixel.expanded_uncertainty) &&
                std::isfinite(c.um_per_pixel.coverage_factor) && std::isfinite(c.fit_uncertainty) &&
                std::isfinite(c.fit_degrees_of_freedom);
  for (const AxisOutcome& axis : outcome.axes)
    finite = finite && std::isfinite(axis.direction_deg) && std::isfinite(axis.false_alarm);
  for (const scale::CalibratedAxis& axis : c.axes)
    finite = finite && std::isfinite(axis.residual_rms_um) && std::isfinite(axis.residual_max_um) &&
             std::isfinite(axis.nonlinearity_max_um);
  if (!finite) throw std::runtime_error("the fit gave a number that is not finite");
}

void append(std::vector<scale::Warning>& list, const std::vector<scale::Warning>& more) {
  for (const scale::Warning& warning : more) {
    const auto same = [&](const scale::Warning& have) {
      return have.code == warning.code && have.message == warning.message;
    };
    if (std::none_of(list.begin(), list.end(), same)) list.push_back(warning);
  }
}

std::optional<scale::Failure> size_failure(const Examination& how, const images::Picture& picture) {
  const auto& size = how.image_size;
  if (!size || ((*size)[0] == picture.width && (*size)[1] == picture.height)) return std::nullopt;
  return scale::Failure{"lab", "other-size",
                        "it is " + std::to_string(picture.width) + " x " + std::to_string(picture.height) +
                            " pixels, the images of " + how.setup + " are " + std::to_string((*size)[0]) + " x " +
                            std::to_string((*size)[1]) + "; was it binned, cropped or resized?"};
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

// The shot without what only pictures are drawn from.
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

std::string hash_of_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return scale::sha256(std::string(std::istreambuf_iterator<char>(file), {}));
}

void add_calibration(Outcome& outcome, const scale::Reading& reading, const scale::ShotHints& hints,
                     const Examination& how) {
  outcome.calibration = scale::calibrate(reading, how.reference, hints);
  for (const scale::Ruling& ruling : reading.rulings) outcome.axes.push_back(axis_of(ruling));
  require_finite(outcome);
  append(outcome.warnings, outcome.calibration->warnings);
  if (!how.expected) return;
  const scale::MicrometresPerPixel found{outcome.calibration->um_per_pixel.value};
  if (const auto doubt = compare_with_expected(found, *how.expected, how.reference.division))
    outcome.warnings.push_back(*doubt);
}

Outcome examined(const Input& input, const Examination& how, const std::string& pictures) {
  if (!input.problem.empty()) return refused(input, {"file", "unreadable", input.problem});
  if (input.refusal) return refused(input, *input.refusal);
  images::ReadOptions options;
  options.channel = how.channel;
  const auto picture = images::read_image(input.path, options);
  if (!picture) return refused(input, {"file", "unreadable", picture.error().message});
  Outcome outcome;
  outcome.image = input.path;
  outcome.division_um = how.reference.division.value;
  outcome.warnings = picture->warnings;
  const cv::Rect region = how.region.value_or(cv::Rect(0, 0, picture->width, picture->height));
  scale::Reading reading;
  outcome.setup = how.setup;
  if (auto outside = region_failure(how.region, *picture))
    reading.failure = std::move(outside);
  else if (auto other = size_failure(how, *picture))
    reading.failure = std::move(other);
  else
    reading = read_ruling(*picture, region);
  append(outcome.warnings, reading.warnings);
  if (reading.rulings.empty())
    outcome.reason = reading.failure.value();
  else {
    const scale::ShotHints hints = hints_of(input, how, region);
    add_calibration(outcome, reading, hints, how);
    if (!how.setup.empty() || how.keep_shot) outcome.shot = shot_of(input, reading, hints, *picture);
    if (how.hash_files) outcome.sha256 = hash_of_file(input.path);
  }
  const scale::Calibration* calibration = outcome.calibration ? &*outcome.calibration : nullptr;
  if (!pictures.empty())
    outcome.picture_problem = write_picture({input.path, picture->view(), region, &reading, calibration},
                                            pictures + '/' + input.picture_name);
  return outcome;
}

}  // namespace

Outcome examine(const Input& input, const Examination& how, const std::string& pictures) noexcept {
  try {
    return examined(input, how, pictures);
  } catch (const std::bad_alloc&) {
    return refused(input,
                   {"memory", "internal-error", "there is not enough memory for it; use fewer --jobs or a --region"});
  } catch (const std::exception& error) {
    return refused(input,
                   {"internal", "internal-error",
                    std::string("it could not be analysed (") + error.what() + "); please report it with the picture"});
  }
}

}  // namespace gradus
