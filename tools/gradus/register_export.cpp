#include "register_export.h"

#include "csv_line.h"
#include "recording.h"
#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

constexpr const char* kSchema = "gradus/register/1";

Json number_or_null(const std::optional<std::int64_t>& number) { return number ? Json(*number) : Json(nullptr); }

scale::Record record_of(const nlohmann::json& json) {
  scale::Record record;
  record.number = json.at("number");
  record.draft.kind = json.at("kind");
  record.draft.setup = json.at("setup");
  if (!json.at("about").is_null()) record.draft.about = json.at("about").get<std::int64_t>();
  record.draft.made_at = json.at("made_at");
  record.draft.made_by = json.at("made_by");
  record.draft.content = json.at("content");
  record.hash = json.at("hash");
  return record;
}

}  // namespace

std::string state_of(const scale::ListedRecord& listed) {
  if (listed.withdrawn_by) return std::string("withdrawn by ").append(std::to_string(*listed.withdrawn_by));
  if (listed.superseded_by) return std::string("superseded by ").append(std::to_string(*listed.superseded_by));
  if (listed.record.draft.kind != "calibration") return "";
  const nlohmann::json content = nlohmann::json::parse(listed.record.draft.content, nullptr, false);
  const nlohmann::json due =
      content.is_discarded() ? nullptr : content.value("/result/due"_json_pointer, nlohmann::json());
  return due.is_string() ? std::string("current, due ").append(due.get<std::string>()) : "current";
}

std::string summary_of(const scale::Record& record) {
  const auto held = recorded_factor(record);
  if (!held) return "";
  const scale::Reported reported = scale::for_report(held->factor.value, held->factor.expanded_uncertainty);
  return fixed(reported.value, reported.decimals)
      .append(" ± ")
      .append(fixed(reported.uncertainty, reported.decimals))
      .append(held->per_division ? " µm/div" : " µm/px");
}

std::string readable_content(const scale::Record& record) {
  const Json content = Json::parse(record.draft.content, nullptr, false);
  return content.is_discarded() ? record.draft.content : content.dump(2);
}

std::string register_json(const std::vector<scale::ListedRecord>& records) {
  Json list = Json::array();
  for (const scale::ListedRecord& listed : records) {
    const scale::RecordDraft& draft = listed.record.draft;
    // The content is a text here, not JSON within JSON: the hash is of its bytes.
    list.push_back({{"number", listed.record.number},
                    {"kind", draft.kind},
                    {"setup", draft.setup},
                    {"about", number_or_null(draft.about)},
                    {"made_at", draft.made_at},
                    {"made_by", draft.made_by},
                    {"content", draft.content},
                    {"hash", listed.record.hash},
                    {"withdrawn_by", number_or_null(listed.withdrawn_by)},
                    {"superseded_by", number_or_null(listed.superseded_by)}});
  }
  return Json{{"schema", kSchema}, {"records", list}}.dump(1, ' ', false, Json::error_handler_t::replace) + '\n';
}

std::string register_csv(const std::vector<scale::ListedRecord>& records) {
  std::string text =
      "number,kind,setup,about,made_at,made_by,um_per_pixel,expanded_uncertainty_um_per_pixel,coverage_factor,"
      "withdrawn_by,superseded_by,hash,um_per_division,expanded_uncertainty_um_per_division\n";
  const auto number = [](const std::optional<std::int64_t>& value) { return value ? std::to_string(*value) : ""; };
  for (const scale::ListedRecord& listed : records) {
    const scale::RecordDraft& draft = listed.record.draft;
    CsvLine line;
    line.text(std::to_string(listed.record.number)).text(draft.kind).text(valid_utf8(draft.setup));
    line.text(number(draft.about)).text(draft.made_at).text(valid_utf8(draft.made_by));
    const auto held = recorded_factor(listed.record);
    if (held && !held->per_division)
      line.number(held->factor.value).number(held->factor.expanded_uncertainty);
    else
      line.empty(2);
    if (held)
      line.number(held->factor.coverage_factor);
    else
      line.empty(1);
    line.text(number(listed.withdrawn_by)).text(number(listed.superseded_by)).text(listed.record.hash);
    if (held && held->per_division)
      line.number(held->factor.value).number(held->factor.expanded_uncertainty);
    else
      line.empty(2);
    text += line.ended();
  }
  return text;
}

tl::expected<std::vector<scale::Record>, std::string> records_of_json(const std::string& text) {
  try {
    const nlohmann::json document = nlohmann::json::parse(text);
    if (!document.is_object() || document.value("schema", "") != kSchema)
      return tl::unexpected<std::string>("is no export of a register; name the JSON of gradus register export");
    std::vector<scale::Record> records;
    for (const nlohmann::json& json : document.at("records")) records.push_back(record_of(json));
    return records;
  } catch (const nlohmann::json::exception& error) {
    return tl::unexpected<std::string>(std::string("is no whole export of a register (") + error.what() + ")");
  }
}

}  // namespace gradus
