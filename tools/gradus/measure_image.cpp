#include "measure_image.h"

#include <scale/opencv.h>
#include <scale/quantity_text.h>
#include <scale/register.h>

#include <algorithm>
#include <cmath>
#include <new>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

#include "file_hash.h"
#include "measure_pictures.h"
#include "region.h"

namespace gradus {
namespace {

constexpr int kPagePixels = 640;  // of a picture on a page, the longer side

SpecimenOutcome without_bodies(const Input& input, scale::Failure reason) {
  SpecimenOutcome outcome;
  outcome.image = input.path;
  outcome.factor = input.setup.value_or(0);
  outcome.reason = std::move(reason);
  return outcome;
}

// Samples in proportion to light, when the curve is known and is one.
cv::Mat linearised(const scale::ImageView& view, double gamma) {
  const int type = view.type == scale::SampleType::u8 ? CV_8U : view.type == scale::SampleType::u16 ? CV_16U : CV_32F;
  const cv::Mat stored(view.height, view.width, type, const_cast<void*>(view.data),
                       static_cast<std::size_t>(view.row_bytes));
  cv::Mat light;
  stored.convertTo(light, CV_32F, 1.0 / view.white);
  cv::max(light, 0.0, light);
  cv::pow(light, gamma, light);
  light *= view.white;
  return light;
}

// The command line goes before the lab file; 0: neither says it.
double gamma_of(const MeasureOptions& options, const FactorInUse& factor) {
  return options.gamma > 0.0 ? options.gamma : factor.gamma;
}

scale::SpecimenReading read_specimen(const scale::ImageView& part, const MeasureOptions& options,
                                     const FactorInUse& factor, const scale::LengthScale& scale) {
  scale::SpecimenOptions how = options.specimen;
  const double typical = 0.5 * (scale.x_um_per_pixel + scale.y_um_per_pixel);
  if (options.least_width) how.least_width_px = options.least_width->value / typical;
  if (how.edge_blur_px == 0.0) how.edge_blur_px = factor.blur_px * factor.um_per_pixel.value / typical;
  return scale::find_bodies(part, how);
}

scale::SpecimenReading read_part(const images::Picture& picture, const MeasureOptions& options,
                                 const FactorInUse& factor, const scale::LengthScale& scale) {
  const cv::Rect region = options.region.value_or(cv::Rect(0, 0, picture.width, picture.height));
  scale::ImageView view = picture.view();
  cv::Mat light;
  if (const double gamma = gamma_of(options, factor); gamma > 0.0 && gamma != 1.0) {
    light = linearised(view, gamma);
    view = scale::view_of(light, view.white);
  }
  if (options.across)
    return scale::find_across(view, options.across->from, options.across->to, options.band.value_or(kBand));
  const scale::ImageView part = scale::crop(view, region.x, region.y, region.width, region.height);
  scale::SpecimenReading reading = read_specimen(part, options, factor, scale);
  scale::move_bodies(reading.bodies, region.x, region.y);
  return reading;
}

scale::MeasurementConditions conditions_of(const MeasureOptions& options, const FactorInUse& factor,
                                           const scale::LengthScale& scale, const images::Picture& picture) {
  scale::MeasurementConditions conditions;
  conditions.scale = scale;
  conditions.scale.width = picture.width, conditions.scale.height = picture.height;
  conditions.edge_shift = options.edge_shift;
  conditions.edge_uncertainty = options.edge_uncertainty;
  const std::optional<double> aperture = options.aperture ? options.aperture : factor.aperture;
  if (!conditions.edge_uncertainty && aperture)
    conditions.edge_uncertainty = scale::edge_convention_uncertainty(*aperture);
  if (gamma_of(options, factor) > 0.0) conditions.grey = scale::GreyCurve::linear;
  return conditions;
}

bool is_outside(const scale::Body& body, const scale::MeasuringArea& area, double binned) {
  const auto beyond = [&](const scale::PixelPoint& at) {
    constexpr double kPixel = 0.5;  // from its centre to its border
    const double x = (at.x + kPixel) * binned, y = (at.y + kPixel) * binned;
    return x < area.x || y < area.y || x > area.x + area.width || y > area.y + area.height;
  };
  // Of a fibre what was measured counts; its outline is drawn on to where it was cut.
  if (body.kind == scale::BodyKind::grain) return std::any_of(body.outline.begin(), body.outline.end(), beyond);
  return std::any_of(body.widths.begin(), body.widths.end(), [&](const scale::LocalWidth& local) {
    return local.used && (beyond(local.left) || beyond(local.right));
  });
}

// Bodies that reach out of the part of the field that was calibrated.
void note_outside(SpecimenOutcome& outcome, const scale::SpecimenReading& reading, const FactorInUse& factor) {
  if (!factor.scale.area) return;
  const double binned = std::round(outcome.scale.x_um_per_pixel / factor.scale.x_um_per_pixel);
  std::size_t outside = 0;
  for (std::size_t i = 0; i < outcome.bodies.size(); ++i) {
    if (!is_outside(reading.bodies[i], *factor.scale.area, binned)) continue;
    outcome.bodies[i].notes.push_back("outside-area");
    ++outside;
  }
  if (outside > 0)
    outcome.warnings.push_back({"outside-area", scale::counted(outside, "body reaches", "bodies reach") +
                                                    " out of the measuring area of " + factor.setup +
                                                    ", where the factor was not calibrated; --region leaves it out"});
}

// Edges moved inwards until nothing is left between them: no width that could stand in a table.
std::optional<scale::Failure> used_up_by_shift(const SpecimenOutcome& outcome, const scale::SpecimenReading& reading,
                                               double shift_um) {
  for (std::size_t i = 0; shift_um < 0.0 && i < outcome.bodies.size(); ++i) {
    const scale::MeasuredBody& body = outcome.bodies[i];
    double left = body.width_min_um.value_or(body.width_um.value);
    // An outline that went through its own middle has a size again.
    if (body.kind == scale::BodyKind::grain)
      left = 2.0 * shift_um + scale::sizes_of(reading.bodies[i].outline).feret_min * outcome.scale.x_um_per_pixel;
    if (!(left > 0.0))
      return scale::Failure{"measurement", "edge-shift",
                            "--edge-shift takes away the whole width of a body; check its unit, or leave it out"};
  }
  return std::nullopt;
}

void add_run_notes(SpecimenOutcome& outcome, const FactorInUse& factor) {
  for (scale::MeasuredBody& body : outcome.bodies) {
    if (factor.overdue) body.notes.push_back("calibration-overdue");
    if (!factor.stated) body.notes.push_back("factor-not-stated");
  }
}

SpecimenOutcome measured(const Input& input, const MeasureOptions& options, const std::vector<FactorInUse>& factors,
                         bool for_page) {
  if (!input.problem.empty()) return without_bodies(input, {"file", "unreadable", input.problem});
  if (input.refusal) return without_bodies(input, *input.refusal);
  const FactorInUse& factor = factors[input.setup.value_or(0)];
  if (factor.failure) return without_bodies(input, *factor.failure);
  images::ReadOptions how;
  how.channel = options.channel;
  const auto picture = images::read_image(input.path, how);
  if (!picture) return without_bodies(input, {"file", "unreadable", picture.error().message});
  if (auto outside = region_failure(options.region, picture->width, picture->height))
    return without_bodies(input, *outside);
  const auto scale = scale_for(factor, picture->width, picture->height, options.factor.binning);
  if (!scale) return without_bodies(input, scale.error());
  SpecimenOutcome outcome = without_bodies(input, {});
  scale::SpecimenReading reading = read_part(*picture, options, factor, *scale);
  outcome.reason = reading.failure;
  outcome.scale = *scale;
  outcome.warnings = picture->warnings;
  outcome.warnings.insert(outcome.warnings.end(), reading.warnings.begin(), reading.warnings.end());
  outcome.bodies = scale::measure_bodies(reading, conditions_of(options, factor, *scale, *picture));
  if (auto used_up = used_up_by_shift(outcome, reading, options.edge_shift.value))
    return without_bodies(input, *used_up);
  note_outside(outcome, reading, factor);
  add_run_notes(outcome, factor);
  if (options.record) outcome.sha256 = hash_of_file(input.path);
  if (!options.output.pictures.empty())
    outcome.picture_problem = write_sheet(
        [&] {
          return draw_specimen({input.path, picture->view(), &reading, &outcome.bodies});
        },
        options.output.pictures + '/' + input.picture_name);
  if (for_page)
    outcome.page_picture = picture_of(draw_bodies(picture->view(), reading, kPagePixels, kPagePixels / 2).canvas);
  return outcome;
}

}  // namespace

SpecimenOutcome measure_image(const Input& input, const MeasureOptions& options,
                              const std::vector<FactorInUse>& factors, bool for_page) noexcept {
  try {
    return measured(input, options, factors, for_page);
  } catch (const std::bad_alloc&) {
    return without_bodies(
        input, {"memory", "internal-error", "there is not enough memory for it; use fewer --jobs or a --region"});
  } catch (const std::exception& error) {
    return without_bodies(
        input, {"internal", "internal-error",
                std::string("it could not be measured (") + error.what() + "); please report it with the picture"});
  }
}

}  // namespace gradus
