#include "measure_json.h"

#include <cmath>

#include "measure_csv.h"
#include "outputs.h"
#include "text.h"

namespace gradus {
namespace {

Json value_json(const scale::MeasuredValue& value) {
  const double expanded = value.expanded(), standard = value.standard();
  return {{"value", value.value},
          {"expanded_uncertainty", expanded},
          {"coverage_factor", standard > 0.0 ? expanded / standard : 2.0},
          {"own_uncertainty", value.own},
          {"shared_uncertainty", value.shared}};
}

Json optional_json(const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); }
Json optional_json(const std::optional<scale::MeasuredValue>& value) {
  return value ? value_json(*value) : Json(nullptr);
}

Json shape_json(const std::optional<scale::ShapeFactors>& shape) {
  if (!shape) return nullptr;
  return {{"circularity", shape->circularity}, {"form_factor", shape->form_factor},   {"roundness", shape->roundness},
          {"compactness", shape->compactness}, {"aspect_ratio", shape->aspect_ratio}, {"solidity", shape->solidity},
          {"convexity", shape->convexity}};
}

Json body_json(std::size_t object, const scale::MeasuredBody& body) {
  return {{"object", object},
          {"kind", kind_words(body.kind)},
          {"x_px", body.at.x},
          {"y_px", body.at.y},
          {"width_um", value_json(body.width_um)},
          {"width_min_um", optional_json(body.width_min_um)},
          {"width_max_um", optional_json(body.width_max_um)},
          {"width_sd_um", optional_json(body.width_sd_um)},
          {"length_um", optional_json(body.length_um)},
          {"feret_min_um", body.kind == scale::BodyKind::grain ? Json(body.width_um.value) : Json(nullptr)},
          {"feret_max_um", optional_json(body.feret_max_um)},
          {"area_um2", optional_json(body.area_um2)},
          {"perimeter_um", optional_json(body.perimeter_um)},
          {"equivalent_diameter_um", optional_json(body.equivalent_diameter_um)},
          {"shape", shape_json(body.shape)},
          {"at_border", body.at_border},
          {"weight", body.weight},
          {"notes", body.notes}};
}

Json factor_in_use_json(const FactorInUse& factor, const scale::LengthScale& scale) {
  return {{"value", factor.um_per_pixel.value},
          {"expanded_uncertainty",
           factor.stated || factor.record > 0 ? Json(factor.um_per_pixel.expanded_uncertainty) : Json(nullptr)},
          {"coverage_factor", factor.um_per_pixel.coverage_factor},
          {"budget_complete", factor.stated},
          {"x", scale.x_um_per_pixel},
          {"y", scale.y_um_per_pixel},
          {"record", factor.record > 0 ? Json(factor.record) : Json(nullptr)},
          {"due", factor.due.empty() ? Json(nullptr) : Json(factor.due)},
          {"overdue", factor.overdue}};
}

}  // namespace

Json measurement_json(const SpecimenOutcome& outcome, const FactorInUse& factor) {
  Json warnings = Json::array();
  for (const scale::Warning& warning : outcome.warnings) warnings.push_back(code_and_message(warning));
  Json json = {{"image", valid_utf8(outcome.image)}, {"status", outcome.reason ? "refused" : "measured"}};
  if (outcome.reason)
    json["reason"] = code_and_message(*outcome.reason);
  else {
    json["setup"] = factor.setup.empty() ? Json(nullptr) : Json(valid_utf8(factor.setup));
    json["um_per_pixel"] = factor_in_use_json(factor, outcome.scale);
    Json bodies = Json::array();
    for (std::size_t i = 0; i < outcome.bodies.size(); ++i) bodies.push_back(body_json(i + 1, outcome.bodies[i]));
    json["bodies"] = bodies;
  }
  json["warnings"] = warnings;
  return json;
}

Json summary_json(const Summary& summary) {
  const scale::SizeDistribution& found = summary.distribution;
  Json classes = Json::array();
  for (const scale::SizeClass& size : found.classes)
    classes.push_back({{"low_um", size.low},
                       {"high_um", size.high},
                       {"count", size.count},
                       {"share", size.share},
                       {"amount_share", summary.weighted_by.empty() ? Json(nullptr) : Json(size.amount_share)}});
  Json json = {{"setup", summary.setup.empty() ? Json(nullptr) : Json(valid_utf8(summary.setup))},
               {"kind", summary.kind},
               {"quantity", summary.quantity},
               {"bodies", found.count},
               {"left_out_at_border", summary.left_out}};
  if (found.count == 0) return json;
  const double standard = std::hypot(found.sampling, found.shared);
  json["mean_um"] = {{"value", found.mean},
                     {"expanded_uncertainty", found.expanded},
                     {"coverage_factor", standard > 0.0 ? found.expanded / standard : 2.0},
                     {"sampling_uncertainty", found.sampling},
                     {"shared_uncertainty", found.shared}};
  json["confidence_half_width_um"] = found.interval_half;
  json["sd_um"] = found.sd;
  json["coefficient_of_variation"] = found.variation;
  json["least_um"] = found.least, json["most_um"] = found.most;
  json["d10_um"] = found.d10, json["median_um"] = found.median, json["d90_um"] = found.d90;
  json["needed"] = found.needed ? Json(*found.needed) : Json(nullptr);
  json["weighted"] = summary.weighted_by.empty() ? Json(nullptr)
                                                 : Json{{"by", summary.weighted_by},
                                                        {"mean_um", found.amount_mean},
                                                        {"d10_um", found.amount_d10},
                                                        {"median_um", found.amount_median},
                                                        {"d90_um", found.amount_d90}};
  json["classes"] = classes;
  return json;
}

MeasurementDocument::MeasurementDocument(const std::string& target) : target_(target) {
  if (target.empty()) return;
  if (target != "-") {
    auto file = images::OutputFile::create(target);
    if (file)
      file_.emplace(std::move(*file));
    else
      problem_ = file.error().message;
  }
  write("{\"schema\": \"gradus/measurement/1\",\n \"results\": [");
}

void MeasurementDocument::write(const std::string& text) {
  if (target_.empty() || !problem_.empty()) return;
  if (!file_) {
    held_ += text;
    return;
  }
  if (const auto written = file_->write(text); !written) problem_ = written.error().message;
}

void MeasurementDocument::add(const SpecimenOutcome& outcome, const FactorInUse& factor) {
  if (target_.empty()) return;
  write((first_ ? "\n  " : ",\n  ") + measurement_json(outcome, factor).dump());
  first_ = false;
}

std::string MeasurementDocument::finish(const std::vector<Summary>& summaries,
                                        const std::vector<std::int64_t>& records) {
  if (target_.empty()) return "";
  Json list = Json::array();
  for (const Summary& summary : summaries) list.push_back(summary_json(summary));
  write("\n ],\n \"summary\": " + list.dump() + ",\n \"records\": " + Json(records).dump() + "}\n");
  if (!problem_.empty()) return problem_;
  if (!file_) return deliver(target_, held_);
  const auto committed = file_->commit();
  return committed ? "" : committed.error().message;
}

}  // namespace gradus
