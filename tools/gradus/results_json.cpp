#include "results_json.h"

#include <algorithm>

#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

Json warnings_json(const Outcome& outcome) {
  Json list = Json::array();
  for (const scale::Warning& warning : outcome.warnings) list.push_back(code_and_message(warning));
  return list;
}

Json main_factor_json(const scale::Calibration& calibration) {
  Json factor = factor_json(calibration.um_per_pixel);
  factor["fit_uncertainty"] = calibration.fit_uncertainty;
  factor["fit_degrees_of_freedom"] = calibration.fit_degrees_of_freedom;
  factor["budget_complete"] = calibration.budget_complete;
  return factor;
}

Json axis_json(const AxisOutcome& pixels, const scale::CalibratedAxis& length, double division_um) {
  return {{"direction_deg", pixels.direction_deg},
          {"pitch_px", pixels.pitch_px},
          {"pitch_fit_uncertainty_px", pixels.pitch_fit_uncertainty_px},
          {"division_um", division_um},
          {"um_per_pixel", length.um_per_pixel},
          {"graduations", pixels.graduations},
          {"missing", pixels.missing},
          {"residual_rms_um", length.residual_rms_um},
          {"residual_max_um", length.residual_max_um},
          {"false_alarm", pixels.false_alarm},
          {"nonlinearity_max_um", length.nonlinearity_max_um}};
}

Json reticle_json(const scale::ReticlePicture& reticle) {
  Json factor = factor_json(reticle.um_per_division);
  factor["fit_uncertainty"] = reticle.fit_uncertainty;
  factor["fit_degrees_of_freedom"] = reticle.fit_degrees_of_freedom;
  factor["budget_complete"] = reticle.budget_complete;
  factor["budget"] = budget_json(reticle.budget, "division");
  Json coincidences = Json::array();
  for (const scale::Coincidence& pair : reticle.coincidences)
    coincidences.push_back({{"reticle", pair.reticle}, {"micrometer", pair.micrometer}, {"offset", pair.offset}});
  factor["coincidences"] = coincidences;
  return factor;
}

// The verdict of the room on what this image shows of its reticle; null: none was asked for.
const ReticleOutcome* verdict_on(const Outcome& outcome, const std::vector<ReticleOutcome>& verdicts) {
  const auto found = std::find_if(verdicts.begin(), verdicts.end(),
                                  [&](const ReticleOutcome& one) { return one.picture == outcome.image; });
  return found == verdicts.end() ? nullptr : &*found;
}

Json calibrated_json(const Outcome& outcome, const std::vector<ReticleOutcome>& verdicts) {
  const scale::Calibration& calibration = *outcome.calibration;
  Json axes = Json::array();
  for (std::size_t i = 0; i < outcome.axes.size(); ++i)
    axes.push_back(axis_json(outcome.axes[i], calibration.axes[i],
                             outcome.reticle && i == 1 ? outcome.reticle->um_per_division.value : outcome.division_um));
  Json json = {{"image", valid_utf8(outcome.image)},
               {"status", "calibrated"},
               {"setup", outcome.setup.empty() ? Json(nullptr) : Json(outcome.setup)},
               {"um_per_pixel", main_factor_json(calibration)},
               {"pixels_per_um", factor_json(calibration.pixels_per_um)},
               {"axes", axes},
               {"um_per_division", outcome.reticle ? reticle_json(*outcome.reticle) : Json(nullptr)}};
  if (const ReticleOutcome* verdict = verdict_on(outcome, verdicts)) add_room_verdict(json, *verdict);
  json["warnings"] = warnings_json(outcome);
  return json;
}

Json refused_json(const Outcome& outcome) {
  return {{"image", valid_utf8(outcome.image)},
          {"status", "refused"},
          {"reason", code_and_message(outcome.reason)},
          {"warnings", warnings_json(outcome)}};
}

}  // namespace

std::string calibration_json(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups,
                             const std::vector<ReticleOutcome>& verdicts, bool with_setups) {
  Json results = Json::array();
  for (const Outcome& outcome : outcomes)
    results.push_back(outcome.calibration ? calibrated_json(outcome, verdicts) : refused_json(outcome));
  Json document = {{"schema", "gradus/calibration/1"}, {"results", results}};
  if (with_setups) {
    Json list = Json::array();
    for (const SetupOutcome& setup : setups) list.push_back(setup_json(setup, outcomes));
    document["setups"] = list;
  }
  return document.dump(2) + '\n';
}

}  // namespace gradus
