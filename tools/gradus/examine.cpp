#include "examine.h"

#include <algorithm>
#include <cmath>
#include <new>
#include <stdexcept>

#include "expectation.h"
#include "file_hash.h"
#include "file_statement.h"
#include "outputs.h"
#include "region.h"
#include "shot_reading.h"

namespace gradus {
namespace {

Outcome refused(const Input& input, scale::Failure reason) {
  Outcome outcome;
  outcome.image = input.path;
  outcome.reason = std::move(reason);
  return outcome;
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

// The micrometer before the reticle, in the reading and in the axes.
void add_reticle(Outcome& outcome, scale::Reading& reading, scale::ReticlePicture found) {
  if (found.micrometer != 0) std::swap(reading.rulings[0], reading.rulings[1]);
  found.micrometer = 0, found.reticle = 1;
  outcome.calibration = found.micrometer_calibration;
  outcome.calibration->axes.push_back(found.reticle_axis);
  for (const scale::Ruling& ruling : reading.rulings) outcome.axes.push_back(axis_of(ruling));
  outcome.reticle = std::move(found);
  require_finite(outcome);
  append(outcome.warnings, outcome.calibration->warnings);
}

// Both scales of a picture through the eyepiece; why not, in the reading.
void read_reticle(Outcome& outcome, scale::Reading& reading, const images::Picture& picture, const Input& input,
                  const Examination& how, const cv::Rect& region) {
  scale::TwoRulings two = read_two_rulings(picture, region);
  if (!two.reading.rulings.empty()) {
    auto found =
        scale::calibrate_reticle(two, how.reference, *how.reticle, hints_of(input, how, region), how.conditions);
    if (found) {
      reading = std::move(two.reading);
      add_reticle(outcome, reading, std::move(*found));
      return;
    }
    two.reading.failure = found.error();
    for (const scale::Ruling& ruling : two.reading.rulings)
      for (const scale::Graduation& line : ruling.graduations)
        two.reading.lines_seen.push_back({line.x1_px, line.y1_px, line.x2_px, line.y2_px, "refused"});
    two.reading.rulings.clear();
  }
  reading = std::move(two.reading);
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
  if (auto outside = region_failure(how.region, picture->width, picture->height))
    reading.failure = std::move(outside);
  else if (auto other = size_failure(how, *picture))
    reading.failure = std::move(other);
  else if (how.reticle)
    read_reticle(outcome, reading, *picture, input, how, region);
  else
    reading = read_ruling(*picture, region);
  append(outcome.warnings, reading.warnings);
  if (reading.rulings.empty())
    outcome.reason = reading.failure.value();
  else {
    const scale::ShotHints hints = hints_of(input, how, region);
    if (!outcome.reticle) add_calibration(outcome, reading, hints, how);
    if (!how.setup.empty() || how.keep_shot) outcome.shot = shot_of(input, reading, hints, *picture);
    if (how.hash_files) {
      outcome.sha256 = hash_of_file(input.path);
      outcome.file = statement_of(*picture);
      look_for_rescaling(outcome.file, *picture, scale::Trace::possible);
    }
  }
  const scale::Calibration* calibration = outcome.calibration ? &*outcome.calibration : nullptr;
  const scale::ReticlePicture* reticle = outcome.reticle ? &*outcome.reticle : nullptr;
  if (!pictures.empty())
    outcome.picture_problem = write_picture({input.path, picture->view(), region, &reading, calibration, reticle},
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
