#include "check_json.h"

#include <filesystem>

#include "csv_line.h"
#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

namespace fs = std::filesystem;

Json comparisons_json(const std::vector<scale::ScaleComparison>& comparisons) {
  Json list = Json::array();
  for (const scale::ScaleComparison& c : comparisons)
    list.push_back({{"direction", std::string(1, c.direction)},
                    {"um_per_pixel", c.found},
                    {"registered_um_per_pixel", c.registered},
                    {"relative_change", c.relative_change},
                    {"standard_uncertainty", c.standard_uncertainty},
                    {"registered_uncertainty", c.registered_uncertainty},
                    {"degrees_of_freedom", freedom_json(c.degrees_of_freedom)},
                    {"coverage_factor", c.coverage_factor},
                    {"expanded_uncertainty", c.expanded_uncertainty},
                    {"limit", c.limit},
                    {"en", c.en}});
  return list;
}

Json bar_json(const std::optional<scale::StatedBar>& bar) {
  if (!bar || !bar->found.bar) return nullptr;
  return {{"length_um", bar->length_um},
          {"length_px", bar->found.bar->length_px},
          {"uncertainty_px", bar->found.bar->uncertainty_px},
          {"um_per_pixel", bar->um_per_pixel()}};
}

Json result_json(const CheckOutcome& outcome, const scale::Lab& lab) {
  const scale::Judgement& judgement = outcome.judgement;
  const scale::ScaleComparison* first = judgement.comparisons.empty() ? nullptr : &judgement.comparisons.front();
  const auto& like = judgement.looks_like;
  return {{"image", valid_utf8(outcome.image)},
          {"setup", outcome.setup ? Json(valid_utf8(lab.setups[*outcome.setup].name)) : Json(nullptr)},
          {"verdict", scale::name_of(judgement.verdict)},
          {"relative_change", first ? Json(first->relative_change) : Json(nullptr)},
          {"expanded_uncertainty", first ? Json(first->expanded_uncertainty) : Json(nullptr)},
          {"en", first ? Json(first->en) : Json(nullptr)},
          {"looks_like", like ? Json(valid_utf8(like->setup)) : Json(nullptr)},
          {"looks_like_times", like ? Json(like->times) : Json(nullptr)},
          {"taken_at", outcome.taken_at.empty() ? Json(nullptr) : Json(outcome.taken_at)},
          {"comparisons", comparisons_json(judgement.comparisons)},
          {"scale_bar", bar_json(outcome.bar)},
          {"evidence", list_json(judgement.evidence)},
          {"warnings", list_json(outcome.warnings)}};
}

Json numbers_of(const std::vector<scale::ListedRecord>& records) {
  Json list = Json::array();
  for (const scale::ListedRecord& listed : records)
    list.push_back({{"record", listed.record.number}, {"kind", listed.record.draft.kind}});
  return list;
}

Json setup_json(const CheckedSetup& setup) {
  Json json = {{"setup", valid_utf8(setup.name)},
               {"registered", setup.calibration ? Json(*setup.calibration) : Json(nullptr)}};
  for (std::size_t i = 0; i < setup.count.size(); ++i)
    json[scale::name_of(static_cast<scale::Verdict>(i))] = setup.count[i];
  json["skipped"] = setup.skipped;
  json["last_good_check"] = setup.last_good.empty() ? Json(nullptr) : Json(setup.last_good);
  json["affected"] = numbers_of(setup.affected);
  json["alerts"] = list_json(setup.alerts);
  json["record"] = setup.record ? Json{{"number", setup.record->number}, {"hash", setup.record->hash}} : Json(nullptr);
  return json;
}

std::string codes_of(const std::vector<scale::Evidence>& evidence) {
  std::string codes;
  for (const scale::Evidence& one : evidence) codes += (codes.empty() ? "" : ";") + one.code;
  return codes;
}

std::string messages_of(const std::vector<scale::Evidence>& evidence) {
  std::string messages;
  for (const scale::Evidence& one : evidence) messages += (messages.empty() ? "" : "; ") + one.message;
  return valid_utf8(messages);
}

}  // namespace

std::string check_json(const CheckRun& run) {
  Json json = {{"schema", "gradus/check/1"}, {"checked_at", run.checked_at}};
  json["results"] = Json::array();
  for (const CheckOutcome& outcome : run.outcomes) json["results"].push_back(result_json(outcome, run.lab));
  json["skipped"] = run.skipped;
  json["setups"] = Json::array();
  for (const CheckedSetup& setup : run.setups) json["setups"].push_back(setup_json(setup));
  return json.dump(2) + "\n";
}

std::string check_csv(const CheckRun& run) {
  std::string text =
      "image,setup,verdict,relative_change,expanded_uncertainty,en,looks_like,looks_like_times,taken_at,"
      "evidence_codes,evidence\n";
  for (const CheckOutcome& outcome : run.outcomes) {
    const scale::Judgement& judgement = outcome.judgement;
    CsvLine line;
    line.text(valid_utf8(outcome.image)).text(outcome.setup ? valid_utf8(run.lab.setups[*outcome.setup].name) : "");
    line.text(scale::name_of(judgement.verdict));
    if (judgement.comparisons.empty()) {
      line.empty(3);
    } else {
      const scale::ScaleComparison& first = judgement.comparisons.front();
      line.number(first.relative_change).number(first.expanded_uncertainty).number(first.en);
    }
    if (judgement.looks_like)
      line.text(valid_utf8(judgement.looks_like->setup)).number(judgement.looks_like->times);
    else
      line.empty(2);
    line.text(outcome.taken_at).text(codes_of(judgement.evidence)).text(messages_of(judgement.evidence));
    text += line.ended();
  }
  return text;
}

std::string kept_path(const std::string& image, const std::string& folder) {
  std::error_code failure;
  const fs::path whole = fs::weakly_canonical(image, failure);
  if (failure) return image;
  const fs::path base = fs::weakly_canonical(folder.empty() ? "." : folder, failure);
  const fs::path relative = failure ? fs::path() : whole.lexically_relative(base);
  return relative.empty() ? whole.string() : relative.string();
}

std::string check_content(const std::vector<const CheckOutcome*>& outcomes, const CheckedSetup& setup,
                          const scale::Lab& lab, const std::string& folder) {
  Json json = {{"schema", "gradus/check-record/1"}, {"tool", "gradus " GRADUS_VERSION}};
  json["calibration"] = *setup.calibration;
  json["results"] = Json::array();
  for (const CheckOutcome* outcome : outcomes) {
    Json result = result_json(*outcome, lab);
    result.erase("setup");
    result["path"] = valid_utf8(kept_path(outcome->image, folder));
    result["bytes"] = outcome->mark->bytes;
    result["modified"] = outcome->mark->modified;
    result["sha256"] = outcome->mark->sha256;
    result["pixels_looked_at"] = !outcome->header_only;
    result["held_by_scale"] = outcome->held_by_scale;
    Json spacings = Json::array();
    for (const scale::CheckStandard& spacing : outcome->spacings)
      spacings.push_back({spacing.reference, spacing.measured});
    result["spacings_um"] = spacings;
    json["results"].push_back(std::move(result));
  }
  return json.dump();
}

}  // namespace gradus
