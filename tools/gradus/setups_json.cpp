#include "setups_json.h"

#include <cmath>

#include "file_statement.h"
#include "text.h"

namespace gradus {
namespace {

Json shots_json(const SetupOutcome& setup, const std::vector<Outcome>& outcomes) {
  Json list = Json::array();
  for (const scale::ShotFactor& factor : setup.calibration->shots) {
    Json numbering = nullptr;
    if (factor.numbering.known) numbering = {{"first", factor.numbering.first}, {"step", factor.numbering.step}};
    list.push_back({{"image", valid_utf8(outcomes[setup.outcomes[factor.shot]].image)},
                    {"direction", std::string(1, factor.direction)},
                    {"um_per_pixel", factor.um_per_pixel},
                    {"fit_uncertainty", factor.fit_uncertainty},
                    {"weight", factor.weight},
                    {"used", factor.used},
                    {"reason", factor.used ? Json(nullptr) : Json(factor.reason)},
                    {"numbering", numbering}});
  }
  return list;
}

Json separation_json(const scale::Separation& separation) {
  if (!separation.done) return {{"done", false}, {"reason", separation.reason}};
  return {{"done", true},
          {"distortion", separation.kappa},
          {"distortion_uncertainty", separation.kappa_uncertainty},
          {"p_value", separation.p_value},
          {"significant", separation.significant},
          {"optics_max_um", separation.optics_max_um},
          {"graduations_rms_um", separation.graduations_rms_um}};
}

Json optional_factor(const std::optional<scale::CalibrationFactor>& factor) {
  return factor ? factor_json(*factor) : Json(nullptr);
}

Json monte_carlo_json(const scale::MonteCarlo& sampled) {
  return {{"trials", sampled.trials},
          {"value", sampled.mean},
          {"standard_uncertainty", sampled.standard_uncertainty},
          {"low", sampled.low},
          {"high", sampled.high}};
}

void add_calibration(Json& json, const SetupOutcome& setup, const std::vector<Outcome>& outcomes) {
  const scale::SetupCalibration& calibration = *setup.calibration;
  Json factor = factor_json(calibration.um_per_pixel);
  factor["degrees_of_freedom"] = freedom_json(calibration.degrees_of_freedom);
  factor["fit_uncertainty"] = calibration.fit_uncertainty;
  factor["fit_degrees_of_freedom"] = freedom_json(calibration.fit_degrees_of_freedom);
  factor["budget_complete"] = calibration.budget_complete;
  json["um_per_pixel"] = factor;
  json["pixels_per_um"] = factor_json(calibration.pixels_per_um);
  json["x"] = optional_factor(calibration.x);
  json["y"] = optional_factor(calibration.y);
  json["budget"] = budget_json(calibration.budget, "pixel");
  json["shots"] = shots_json(setup, outcomes);
  json["separation"] = separation_json(calibration.separation);
  json["monte_carlo"] = setup.monte_carlo ? monte_carlo_json(*setup.monte_carlo) : Json(nullptr);
}

// What was found along every ruling, in short lists.
Json rulings_json(const scale::Shot& shot) {
  Json list = Json::array();
  for (const scale::Ruling& ruling : shot.reading.rulings) {
    Json index = Json::array(), position = Json::array(), uncertainty = Json::array(), used = Json::array();
    Json ends = Json::array();
    for (const scale::Graduation& line : ruling.graduations) {
      index.push_back(line.index);
      position.push_back(line.position_px);
      uncertainty.push_back(line.uncertainty_px);
      used.push_back(line.used);
      ends.push_back({line.x1_px, line.y1_px, line.x2_px, line.y2_px});
    }
    list.push_back({{"direction_deg", scale::degrees(ruling.direction)},
                    {"pitch_px", ruling.pitch_px},
                    {"pitch_uncertainty_px", ruling.pitch_uncertainty_px},
                    {"degrees_of_freedom", ruling.degrees_of_freedom},
                    {"nonlinearity_max_px", ruling.nonlinearity_max_px},
                    {"edge_blur_px", ruling.edge_blur_px},
                    {"index", index},
                    {"position_px", position},
                    {"uncertainty_px", uncertainty},
                    {"used", used},
                    {"ends_px", ends}});
  }
  return list;
}

Json inputs_json(const SetupOutcome& setup, const std::vector<Outcome>& outcomes) {
  Json list = Json::array();
  for (const std::size_t place : setup.outcomes) list.push_back(input_json(outcomes[place]));
  return list;
}

Json image_shots_json(const Outcome& outcome) {
  Json list = Json::array();
  for (std::size_t i = 0; i < outcome.axes.size(); ++i) {
    const double turned = std::abs(outcome.axes[i].direction_deg);
    list.push_back({{"image", valid_utf8(outcome.image)},
                    {"direction", turned <= 45.0 ? "x" : "y"},
                    {"um_per_pixel", outcome.calibration->axes[i].um_per_pixel},
                    {"fit_uncertainty", outcome.calibration->axes[i].fit_uncertainty},
                    {"weight", 1.0 / static_cast<double>(outcome.axes.size())},
                    {"used", true},
                    {"reason", nullptr},
                    {"numbering", nullptr}});
  }
  return list;
}

}  // namespace

Json input_json(const Outcome& outcome) {
  return {{"image", valid_utf8(outcome.image)},   {"sha256", outcome.sha256},
          {"width", outcome.shot->width},         {"height", outcome.shot->height},
          {"file", statement_json(outcome.file)}, {"rulings", rulings_json(*outcome.shot)}};
}

Json freedom_json(double degrees_of_freedom) {
  return std::isfinite(degrees_of_freedom) ? Json(degrees_of_freedom) : Json(nullptr);
}

Json budget_json(const std::vector<scale::BudgetLine>& budget, const std::string& per) {
  Json list = Json::array();
  for (const scale::BudgetLine& line : budget) {
    const bool known = line.stated;
    list.push_back({{"component", line.input.name},
                    {"stated", known},
                    {"unit", line.unit},
                    {"value", known ? Json(line.input.value) : Json(nullptr)},
                    {"standard_uncertainty", known ? Json(line.input.standard_uncertainty) : Json(nullptr)},
                    {"distribution", known ? Json(scale::name_of(line.input.distribution)) : Json(nullptr)},
                    {"degrees_of_freedom", freedom_json(line.input.degrees_of_freedom)},
                    {"sensitivity", known ? Json(line.input.sensitivity) : Json(nullptr)},
                    {"contribution_um_per_" + per, known ? Json(line.contribution) : Json(nullptr)},
                    {"basis", valid_utf8(line.basis)}});
  }
  return list;
}

template <class Spoken>
Json code_and_message(const Spoken& spoken) {
  return {{"code", spoken.code}, {"message", valid_utf8(spoken.message)}};
}
template Json code_and_message(const scale::Failure&);
template Json code_and_message(const scale::Warning&);
template Json code_and_message(const scale::Evidence&);

Json factor_json(const scale::CalibrationFactor& factor) {
  return {{"value", factor.value},
          {"expanded_uncertainty", factor.expanded_uncertainty},
          {"coverage_factor", factor.coverage_factor}};
}

Json setup_json(const SetupOutcome& setup, const std::vector<Outcome>& outcomes) {
  Json json = {{"setup", valid_utf8(setup.name)}, {"status", setup.status()}, {"images", setup.images}};
  if (setup.calibration) {
    add_calibration(json, setup, outcomes);
    json["nominal_um_per_pixel"] = setup.nominal ? Json(*setup.nominal) : Json(nullptr);
    json["registered"] = setup.before ? Json{{"record", setup.before->number},
                                             {"value", setup.before->value},
                                             {"expanded_uncertainty", setup.before->expanded_uncertainty}}
                                      : Json(nullptr);
    json["due"] = setup.due ? Json(date_words(*setup.due)) : Json(nullptr);
    json["record"] =
        setup.record ? Json{{"number", setup.record->number}, {"hash", setup.record->hash}} : Json(nullptr);
  }
  json["flags"] = list_json(setup.flags);
  json["warnings"] = list_json(setup.warnings);
  return json;
}

std::string record_content(const SetupOutcome& setup, const std::vector<Outcome>& outcomes, const scale::Lab& lab,
                           const std::string& accepted) {
  Json json = {{"schema", "gradus/calibration-record/1"},
               {"tool", "gradus " GRADUS_VERSION},
               {"scale", valid_utf8(lab.scales[lab.setups[setup.setup].scale].name)},
               {"accepted", accepted.empty() ? Json(nullptr) : Json(valid_utf8(accepted))}};
  Json result = setup_json(setup, outcomes);
  result.erase("record");
  json["result"] = result;
  json["inputs"] = inputs_json(setup, outcomes);
  return json.dump();
}

std::string image_content(const Outcome& outcome) {
  const scale::Calibration& calibration = *outcome.calibration;
  Json factor = factor_json(calibration.um_per_pixel);
  factor["budget_complete"] = calibration.budget_complete;
  const Json result = {{"um_per_pixel", factor},
                       {"pixels_per_um", factor_json(calibration.pixels_per_um)},
                       {"budget", budget_json(calibration.budget, "pixel")},
                       {"shots", image_shots_json(outcome)},
                       {"flags", Json::array()},
                       {"warnings", list_json(outcome.warnings)}};
  return Json{{"result", result}, {"inputs", Json::array({input_json(outcome)})}}.dump();
}

}  // namespace gradus
