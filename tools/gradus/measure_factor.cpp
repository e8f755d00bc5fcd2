#include "measure_factor.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "recording.h"
#include "registered.h"
#include "text.h"

namespace gradus {
namespace {

using nlohmann::json;
using namespace nlohmann::literals;

// The field's part of the budget is for the mean factor; at one place it may be off by twice that (judgement:
// docs/uncertainty.md).
constexpr double kLocalField = 2.0;

double number_at(const json& content, const json::json_pointer& where) {
  const json value = content.value(where, json());
  return value.is_number() ? value.get<double>() : 0.0;
}

// The field's part of the budget, as a share of the factor.
struct FieldPart {
  double share = 0.0;
  bool by_hand = false;  // the laboratory states it
};

FieldPart field_part(const json& content, double factor) {
  for (const json& line : content.value("/result/budget"_json_pointer, json::array()))
    if (line.value("component", "") == "field" && line.value("stated", false))
      return {line.value("contribution_um_per_pixel", 0.0) / factor, line.value("basis", "") == "as stated"};
  return {};
}

// Share of the field's variance that is the doubt about the distortion, which the budget adds in squares to the
// distortion itself.
double field_left(const json& content, double kappa) {
  const double doubt = number_at(content, "/result/separation/distortion_uncertainty"_json_pointer);
  return doubt * doubt / (doubt * doubt + kappa * kappa);
}

// Size of the calibrated pictures, the same for all shots or not known, and the blur of their lines.
void take_inputs(const json& content, FactorInUse& factor) {
  std::vector<double> blurs;
  std::vector<std::array<int, 2>> sizes;
  for (const json& input : content.value("inputs", json::array())) {
    sizes.push_back({input.value("width", 0), input.value("height", 0)});
    for (const json& ruling : input.value("rulings", json::array()))
      if (const double blur = ruling.value("edge_blur_px", 0.0); blur > 0.0) blurs.push_back(blur);
  }
  const auto agrees = [&](const std::array<int, 2>& size) { return size == sizes[0] && size[0] > 0 && size[1] > 0; };
  if (!sizes.empty() && std::all_of(sizes.begin(), sizes.end(), agrees)) factor.image_size = sizes[0];
  if (blurs.empty()) return;
  // The sharpest shot knows best what the lens does.
  factor.blur_px = *std::min_element(blurs.begin(), blurs.end());
}

void take_scale(const json& content, FactorInUse& factor) {
  const scale::CalibrationFactor& mean = factor.um_per_pixel;
  factor.stated = content.value("/result/um_per_pixel/budget_complete"_json_pointer, false);
  scale::LengthScale& scale = factor.scale;
  scale.x_um_per_pixel = scale.y_um_per_pixel = mean.value;
  const double x = number_at(content, "/result/x/value"_json_pointer);
  const double y = number_at(content, "/result/y/value"_json_pointer);
  if (x > 0.0 && y > 0.0) scale.x_um_per_pixel = x, scale.y_um_per_pixel = y;
  scale.relative_uncertainty = mean.expanded_uncertainty / mean.coverage_factor / mean.value;
  if (!content.value("/result/separation/significant"_json_pointer, false)) {
    scale.local_uncertainty = kLocalField * field_part(content, mean.value).share;
    return;
  }
  scale.kappa = number_at(content, "/result/separation/distortion"_json_pointer);
  // Every place has its own factor now: of the field only the doubt about the distortion is left.
  if (const FieldPart field = field_part(content, mean.value); !field.by_hand)
    scale.relative_uncertainty =
        std::sqrt(std::max(0.0, scale.relative_uncertainty * scale.relative_uncertainty -
                                    (1.0 - field_left(content, scale.kappa)) * field.share * field.share));
  if (!factor.image_size || (x > 0.0) == (y > 0.0)) return;
  // Seen along one direction alone: the optics bend the other one as they do this one.
  const scale::FrameMeans means =
      scale::frame_means(scale.kappa, (*factor.image_size)[0], (*factor.image_size)[1], scale.area);
  (x > 0.0 ? scale.y_um_per_pixel : scale.x_um_per_pixel) *= x > 0.0 ? means.y / means.x : means.x / means.y;
}

scale::Failure no_calibration(const std::string& setup) {
  return {"register", "no-calibration",
          "the register holds no current calibration of " + setup +
              "; calibrate it with gradus calibrate --record, or give --um-per-pixel"};
}

scale::Failure binning_changed(const scale::LabSetup& then, const scale::LabSetup& now) {
  return {"register", "other-binning",
          now.name + " was calibrated with binning " + std::to_string(then.binning) + " and the lab file now says " +
              std::to_string(now.binning) + "; calibrate it anew"};
}

// `then` is the set-up as it was calibrated.
FactorInUse factor_of_record(const scale::Record& record, const scale::LabSetup& then, const std::string& today,
                             bool accept_overdue) {
  const std::string& setup = then.name;
  FactorInUse factor;
  factor.setup = setup;
  factor.scale.area = then.conditions.measuring_area;
  factor.record = record.number;
  const std::string named = "record " + std::to_string(record.number) + " of " + setup;
  const std::optional<RecordedFactor> recorded = recorded_factor(record);
  if (recorded && recorded->per_division) {
    factor.failure = scale::Failure{"register", "no-calibration",
                                    named + " is of an eyepiece reticle, per division; choose a camera's set-up"};
    return factor;
  }
  if (recorded) {
    const json content = json::parse(record.draft.content);
    factor.um_per_pixel = recorded->factor;
    take_inputs(content, factor);
    take_scale(content, factor);
    const json due = content.value("/result/due"_json_pointer, json());
    if (due.is_string()) factor.due = due.get<std::string>();
  }
  if (!(factor.um_per_pixel.value > 0.0)) {
    factor.failure =
        scale::Failure{"register", "no-calibration", named + " holds no factor that can be read; calibrate it anew"};
    return factor;
  }
  const std::string made = record.draft.made_at.substr(0, 10);
  if (made > today)
    factor.failure = scale::Failure{
        "register", "no-calibration",
        named + " is of " + made + ", after the day of this measurement, " + today + "; set the clock, or give --at"};
  factor.overdue = !factor.due.empty() && today > factor.due;
  if (factor.overdue && !accept_overdue)
    factor.failure = scale::Failure{
        "register", "overdue",
        "the calibration of " + setup + " (record " + std::to_string(record.number) + ") was due again on " +
            factor.due + "; calibrate it anew, or measure with --accept-overdue, which every row will say"};
  return factor;
}

}  // namespace

FactorInUse factor_of_command_line(const FactorOptions& options) {
  FactorInUse factor;
  factor.um_per_pixel = {options.um_per_pixel, options.relative_uncertainty.value_or(0.0) * options.um_per_pixel, 2.0};
  factor.stated = options.relative_uncertainty.has_value();
  factor.scale.x_um_per_pixel = factor.scale.y_um_per_pixel = options.um_per_pixel;
  factor.scale.relative_uncertainty = 0.5 * options.relative_uncertainty.value_or(0.0);
  return factor;
}

std::vector<FactorInUse> factors_of_register(const LabRoom& room, const FactorOptions& options,
                                             const std::string& today, std::string& problem) {
  std::vector<FactorInUse> factors(room.lab.setups.size());
  const auto reg = scale::Register::open(room.register_path(), scale::RegisterUse::read);
  if (!reg) {
    problem = reg.error().code == "missing"
                  ? room.register_path() +
                        ": there is no register; calibrate with gradus calibrate --record first, or give --um-per-pixel"
                  : reg.error().message;
    return factors;
  }
  for (std::size_t i = 0; i < factors.size(); ++i) {
    const scale::LabSetup& setup = room.lab.setups[i];
    const auto record = reg->current_calibration(setup.name);
    if (!record) {
      problem = record.error().message;
      return factors;
    }
    if (*record) {
      const scale::LabSetup then = setup_then(*reg, **record, setup.name).value_or(setup);
      factors[i] = factor_of_record(**record, then, today, options.accept_overdue);
      if (then.binning != setup.binning) factors[i].failure = binning_changed(then, setup);
    } else {
      factors[i].failure = no_calibration(setup.name);
    }
    factors[i].setup = setup.name;
    factors[i].aperture = setup.conditions.aperture;
    factors[i].gamma = setup.gamma.value_or(0.0);
  }
  return factors;
}

scale::Registered<scale::LengthScale> scale_for(const FactorInUse& factor, int width, int height, bool binning) {
  if (!factor.image_size || *factor.image_size == std::array<int, 2>{width, height}) return factor.scale;
  const auto [full_width, full_height] = *factor.image_size;
  const auto words = [](int w, int h) { return std::to_string(w) + " x " + std::to_string(h); };
  std::string message = "it has " + words(width, height) + " pixels and " + factor.setup + " was calibrated with " +
                        words(full_width, full_height);
  for (int n = 2; n <= 4; ++n) {
    if (width != full_width / n || height != full_height / n) continue;
    if (binning) {
      scale::LengthScale scale = factor.scale;
      scale.x_um_per_pixel *= n, scale.y_um_per_pixel *= n;
      if (scale.area)
        scale.area = scale::MeasuringArea{(scale.area->x + 0.5) / n - 0.5, (scale.area->y + 0.5) / n - 0.5,
                                          scale.area->width / n, scale.area->height / n};
      return scale;
    }
    return tl::unexpected(scale::Failure{"frame", "other-size",
                                         message + "; if the camera joined " + std::to_string(n) + " x " +
                                             std::to_string(n) + " pixels to one, say --binning"});
  }
  return tl::unexpected(
      scale::Failure{"frame", "other-size", message + "; the factor does not hold for it: calibrate this size"});
}

}  // namespace gradus
