#include "affected.h"

#include <scale/lab.h>

#include <algorithm>

namespace gradus {

std::vector<scale::ListedRecord> affected_records(const std::vector<scale::ListedRecord>& records,
                                                  const AffectedSince& since) {
  std::vector<scale::ListedRecord> affected;
  for (const scale::ListedRecord& listed : records) {
    const scale::RecordDraft& draft = listed.record.draft;
    const bool result = draft.kind == "measurement" || draft.kind == "calibration";
    // Times of one form, ISO 8601 in UTC, stand in the order of their characters; a day comes before its times.
    if (result && listed.record.number > since.record && draft.made_at >= since.time) affected.push_back(listed);
  }
  return affected;
}

std::string affected_words(const std::vector<scale::ListedRecord>& affected, std::size_t most) {
  if (affected.empty()) return "nothing";
  std::string words;
  const std::size_t named = std::min(most, affected.size());
  for (std::size_t i = 0; i < named; ++i) {
    if (i > 0) words += i + 1 == affected.size() ? " and " : ", ";
    words.append(affected[i].record.draft.kind).append(" ").append(std::to_string(affected[i].record.number));
  }
  if (named < affected.size()) words += " and " + std::to_string(affected.size() - named) + " more";
  return words;
}

bool is_day_or_time(const std::string& text) { return scale::is_utc_time(text) || scale::parse_date(text).has_value(); }

}  // namespace gradus
