#include "checked_before.h"

#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "check_json.h"
#include "file_hash.h"

namespace gradus {
namespace {

RecordedCheck check_in(const nlohmann::json& result, const scale::Record& record) {
  RecordedCheck check;
  check.record = record.number;
  check.made_at = record.draft.made_at;
  check.path = result.at("path");
  check.verdict = result.at("verdict");
  check.taken_at = result.at("taken_at").is_string() ? result["taken_at"].get<std::string>() : check.made_at;
  check.mark = {result.at("bytes"), result.at("modified"), result.at("sha256")};
  check.pixels_looked_at = result.at("pixels_looked_at");
  check.held_by_scale = result.at("held_by_scale");
  const auto& comparisons = result.at("comparisons");
  for (const auto& comparison : comparisons) {
    const auto count = static_cast<double>(comparisons.size());
    check.change += comparison.at("relative_change").get<double>() / count;
    check.standard_uncertainty += comparison.at("standard_uncertainty").get<double>() / count;
    check.registered_uncertainty += comparison.value("registered_uncertainty", 0.0) / count;
  }
  for (const auto& spacing : result.at("spacings_um")) check.spacings.push_back({spacing.at(0), spacing.at(1)});
  return check;
}

}  // namespace

std::vector<RecordedCheck> recorded_checks(const std::vector<scale::ListedRecord>& records, std::int64_t calibration) {
  std::vector<RecordedCheck> checks;
  for (const scale::ListedRecord& listed : records) {
    const scale::RecordDraft& draft = listed.record.draft;
    if (draft.kind != "check" || draft.about != calibration || listed.withdrawn_by) continue;
    const nlohmann::json content = nlohmann::json::parse(draft.content, nullptr, false);
    if (!content.is_object()) continue;
    for (const auto& result : content.value("results", nlohmann::json::array()))
      checks.push_back(check_in(result, listed.record));
  }
  return checks;
}

std::string verdicts_in(const scale::Record& record) {
  const nlohmann::json content = nlohmann::json::parse(record.draft.content, nullptr, false);
  if (record.draft.kind != "check" || !content.is_object()) return "";
  std::string words;
  for (const char* verdict : {"within", "drifted", "mismatch", "unverifiable"}) {
    std::size_t count = 0;
    for (const auto& result : content.value("results", nlohmann::json::array()))
      count += result.value("verdict", "") == verdict ? 1 : 0;
    if (count > 0) words.append(words.empty() ? "" : ", ").append(std::to_string(count)).append(" ").append(verdict);
  }
  return words;
}

LastGood last_good(const std::vector<RecordedCheck>& checks, std::int64_t calibration) {
  std::set<std::int64_t> in_doubt;
  for (const RecordedCheck& check : checks)
    if (check.held_by_scale && check.verdict == "drifted") in_doubt.insert(check.record);
  LastGood good{calibration, ""};
  for (const RecordedCheck& check : checks)
    if (check.held_by_scale && check.verdict == "within" && !in_doubt.contains(check.record))
      good = {check.record, check.made_at};
  return good;
}

CheckedBefore::CheckedBefore(const std::vector<RecordedCheck>& checks, std::string folder)
    : folder_(std::move(folder)) {
  for (const RecordedCheck& check : checks) by_path_[check.path] = check;
}

const RecordedCheck* CheckedBefore::find(const std::string& image, bool tags_only) const {
  if (by_path_.empty()) return nullptr;
  const auto found = by_path_.find(kept_path(image, folder_));
  if (found == by_path_.end()) return nullptr;
  const RecordedCheck& check = found->second;
  if (!tags_only && !check.pixels_looked_at) return nullptr;
  const std::optional<FileMark> mark = mark_of(image);
  if (!mark || mark->bytes != check.mark.bytes) return nullptr;
  if (mark->modified == check.mark.modified) return &check;
  return hash_of_file(image) == check.mark.sha256 ? &check : nullptr;
}

}  // namespace gradus
