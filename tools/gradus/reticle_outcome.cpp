#include "reticle_outcome.h"

#include "budget_table.h"
#include "columns.h"
#include "text.h"

namespace gradus {
namespace {

std::string signed_words(double value, int decimals) {
  return std::string(value < 0.0 ? "" : "+").append(fixed(value, decimals));
}

std::string residuals_table(const ReticleOutcome& outcome) {
  const std::vector<std::string> head = {"reading", "off line, µm", "u, µm", ""};
  std::vector<std::vector<std::string>> rows;
  const auto& readings = outcome.set.readings;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const scale::ReadingResidual& residual = outcome.calibration->readings[i];
    const bool next_series = i > 0 && readings[i].series != readings[i - 1].series;
    rows.push_back({std::string(next_series ? "/ " : "").append(scale::reading_words(readings[i])),
                    signed_words(residual.residual_um, 2), fixed(residual.uncertainty_um, 2),
                    std::string(residual.used ? "" : "left out: ").append(residual.remark)});
  }
  Columns columns({true, true, true, false});
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  return text + columns.rule();
}

std::string further_words(const scale::ReticleCalibration& calibration) {
  if (!calibration.further) return "No further reading in view would take 5 % off the uncertainty of the readings.\n";
  const scale::FurtherReading& next = *calibration.further;
  const std::string pair = std::to_string(next.reticle).append("=").append(std::to_string(next.micrometer));
  const std::string what = next.coincides ? "the lines near " + pair + ", which should coincide"
                                          : "the reticle's line " + std::to_string(next.reticle) + " (near " + pair +
                                                "), its fraction estimated";
  return "Read next: " + what + "; u of the readings would go from " +
         digits(1000.0 * calibration.reading_uncertainty) + " to about " + digits(1000.0 * next.improved_uncertainty) +
         " nm/div.\n";
}

std::string block_of(const ReticleOutcome& outcome) {
  std::string text;
  if (!outcome.set.setup.empty()) text.append(printable(outcome.set.setup)).append(": ");
  if (!outcome.calibration) return text.append("refused: ").append(outcome.reason.message).append("\n");
  const scale::ReticleCalibration& calibration = *outcome.calibration;
  text.append(text.empty() ? "One" : "one").append(" reticle division is ");
  text.append(factor_words(calibration.um_per_division, calibration.degrees_of_freedom, "div"));
  if (outcome.nominal) {
    const double off = calibration.um_per_division.value / *outcome.nominal - 1.0;
    text.append("; nominal ").append(shortest(*outcome.nominal)).append(", off by ");
    text.append(off < 0.0 ? "" : "+").append(percent(off));
  }
  text.append("\n\n").append(residuals_table(outcome)).append("\n").append(budget_lines(calibration.budget, "div"));
  if (!calibration.budget_complete) text.append("What is not stated is not in U.\n");
  text.append("\n").append(further_words(calibration));
  for (const scale::Warning& flag : outcome.flags)
    text.append(flag.code).append(": ").append(flag.message).append("\n");
  if (outcome.record) text.append("Recorded as number ").append(std::to_string(outcome.record->number)).append(".\n");
  return text;
}

Json readings_json(const ReticleOutcome& outcome) {
  Json list = Json::array();
  for (std::size_t i = 0; i < outcome.set.readings.size(); ++i) {
    const scale::EyeReading& reading = outcome.set.readings[i];
    Json json = {{"series", reading.series + 1},
                 {"reticle", reading.reticle},
                 {"micrometer", reading.micrometer},
                 {"reticle_estimated", reading.reticle_estimated},
                 {"micrometer_estimated", reading.micrometer_estimated}};
    if (outcome.calibration) {
      const scale::ReadingResidual& residual = outcome.calibration->readings[i];
      json["residual_um"] = residual.residual_um;
      json["uncertainty_um"] = residual.uncertainty_um;
      json["used"] = residual.used;
      json["remark"] = residual.remark;
    }
    list.push_back(json);
  }
  return list;
}

Json further_json(const std::optional<scale::FurtherReading>& further) {
  if (!further) return nullptr;
  return {{"reticle", further->reticle},
          {"micrometer", further->micrometer},
          {"coincides", further->coincides},
          {"reading_uncertainty", further->improved_uncertainty}};
}

Json outcome_json(const ReticleOutcome& outcome) {
  Json json = {{"setup", outcome.set.setup.empty() ? Json(nullptr) : Json(valid_utf8(outcome.set.setup))},
               {"status", outcome.status()}};
  if (!outcome.picture.empty()) json["picture"] = {{"file", valid_utf8(outcome.picture)}, {"sha256", outcome.sha256}};
  if (!outcome.calibration) {
    json["reason"] = code_and_message(outcome.reason);
    json["readings"] = readings_json(outcome);
    json["warnings"] = Json::array();
    return json;
  }
  const scale::ReticleCalibration& calibration = *outcome.calibration;
  Json factor = factor_json(calibration.um_per_division);
  factor["reading_uncertainty"] = calibration.reading_uncertainty;
  factor["degrees_of_freedom"] = freedom_json(calibration.degrees_of_freedom);
  factor["budget_complete"] = calibration.budget_complete;
  json["um_per_division"] = factor;
  json["division_um"] = outcome.division_um;
  json["readings"] = readings_json(outcome);
  json["chi_squared"] = {{"value", calibration.chi_squared}, {"degrees_of_freedom", calibration.chi_squared_freedom}};
  json["further_reading"] = further_json(calibration.further);
  json["budget"] = budget_json(calibration.budget, "division");
  add_room_verdict(json, outcome);
  std::vector<scale::Warning> warnings = outcome.seen;
  for (scale::Warning& warning : outcome.warnings()) warnings.push_back(std::move(warning));
  json["warnings"] = list_json(warnings);
  return json;
}

}  // namespace

void add_room_verdict(Json& json, const ReticleOutcome& outcome) {
  json["nominal_um_per_division"] = outcome.nominal ? Json(*outcome.nominal) : Json(nullptr);
  json["registered"] = outcome.before ? Json{{"record", outcome.before->number},
                                             {"value", outcome.before->value},
                                             {"expanded_uncertainty", outcome.before->expanded_uncertainty}}
                                      : Json(nullptr);
  json["due"] = outcome.due ? Json(date_words(*outcome.due)) : Json(nullptr);
  json["record"] =
      outcome.record ? Json{{"number", outcome.record->number}, {"hash", outcome.record->hash}} : Json(nullptr);
  json["flags"] = list_json(outcome.flags);
}

std::vector<scale::Warning> ReticleOutcome::warnings() const {
  std::vector<scale::Warning> list = calibration->warnings;
  const std::string missing = component_names(calibration->budget, false);
  if (!missing.empty()) list.push_back({"budget-incomplete", "not stated and not in U: " + missing});
  return list;
}

std::string reticle_table(const std::vector<ReticleOutcome>& outcomes) {
  std::string text;
  for (const ReticleOutcome& outcome : outcomes) text.append(text.empty() ? "" : "\n").append(block_of(outcome));
  return text;
}

std::string reticle_json(const std::vector<ReticleOutcome>& outcomes) {
  Json results = Json::array();
  for (const ReticleOutcome& outcome : outcomes) results.push_back(outcome_json(outcome));
  return Json{{"schema", "gradus/reticle/1"}, {"results", results}}.dump(2) + '\n';
}

std::string reticle_record_content(const ReticleOutcome& outcome, const scale::Lab* lab, const std::string& accepted) {
  const bool named = lab != nullptr && outcome.setup;
  Json json = {{"schema", "gradus/reticle-record/1"},
               {"tool", "gradus " GRADUS_VERSION},
               {"scale", named ? Json(valid_utf8(lab->scales[lab->setups[*outcome.setup].scale].name)) : Json(nullptr)},
               {"accepted", accepted.empty() ? Json(nullptr) : Json(valid_utf8(accepted))}};
  Json result = outcome_json(outcome);
  result.erase("record");
  json["result"] = result;
  if (!outcome.input.is_null()) json["inputs"] = Json::array({outcome.input});
  return json.dump();
}

}  // namespace gradus
