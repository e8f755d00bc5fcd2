#include "recording.h"

#include <chrono>
#include <cstdio>
#include <ctime>

#include "setups_json.h"

namespace gradus {
namespace {

std::string flag_codes(const std::vector<scale::Warning>& flags) {
  std::string codes;
  for (const scale::Warning& flag : flags) codes += (codes.empty() ? "" : ", ") + flag.code;
  return codes;
}

// Says so when a record is of an earlier day than the one before it: whether the clock is wrong or a day was made up,
// only a person can tell.
std::string dated_before(const scale::Register& reg, const scale::Record& record) {
  constexpr std::size_t kDay = 10;  // letters of 2026-02-28
  for (std::int64_t number = record.number - 1; number > 0; --number) {
    const auto before = reg.show(number);
    if (!before) return "";
    const scale::RecordDraft& draft = before->record.draft;
    if (draft.kind == "lab-file" && draft.made_at == record.draft.made_at) continue;  // written with it
    if (record.draft.made_at.compare(0, kDay, draft.made_at, 0, kDay) >= 0) return "";
    return record.draft.setup + ": record " + std::to_string(record.number) + " is dated " + record.draft.made_at +
           ", before record " + std::to_string(number) + " of " + draft.made_at +
           "; check the clock or --at, register verify will name it as well";
  }
  return "";
}

}  // namespace

std::optional<RecordedFactor> recorded_factor(const scale::Record& record) {
  if (record.draft.kind != "calibration") return std::nullopt;
  // A record of a later schema within 1 may hold more, never less.
  const nlohmann::json content = nlohmann::json::parse(record.draft.content, nullptr, false);
  if (content.is_discarded()) return std::nullopt;
  for (const bool per_division : {false, true}) {
    const nlohmann::json::json_pointer place(per_division ? "/result/um_per_division" : "/result/um_per_pixel");
    const nlohmann::json factor = content.value(place, nlohmann::json());
    if (!factor.is_object() || !factor.contains("value") || !factor.contains("expanded_uncertainty")) continue;
    return RecordedFactor{{factor["value"], factor["expanded_uncertainty"], factor.value("coverage_factor", 2.0)},
                          per_division};
  }
  return std::nullopt;
}

std::string utc_now() {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm utc{};
  gmtime_r(&now, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

std::vector<std::optional<RegisteredFactor>> registered_factors(const LabRoom& room, std::string& problem) {
  std::vector<std::optional<RegisteredFactor>> factors(room.lab.setups.size());
  const auto reg = scale::Register::open(room.register_path(), scale::RegisterUse::read);
  if (!reg) {
    if (reg.error().code != "missing") problem = reg.error().message;
    return factors;
  }
  for (std::size_t i = 0; i < factors.size(); ++i) {
    const auto record = reg->current_calibration(room.lab.setups[i].name);
    if (!record) {
      problem = record.error().message;
      return factors;
    }
    if (!*record) continue;
    if (const auto held = recorded_factor(**record))
      factors[i] = RegisteredFactor{(*record)->number, held->factor.value, held->factor.expanded_uncertainty};
  }
  return factors;
}

scale::Registered<scale::Register> register_of(const LabRoom& room) {
  const std::string path = room.register_path();
  auto reg = scale::Register::open(path, scale::RegisterUse::write);
  if (reg || reg.error().code != "missing") return reg;
  auto made = scale::Register::create(path);
  // Another program may have made it in between.
  return made || made.error().code != "exists" ? std::move(made)
                                               : scale::Register::open(path, scale::RegisterUse::write);
}

std::optional<scale::Record> record_one(scale::Register& reg, const LabRoom& room, const Recordable& what,
                                        const RecordPlan& plan, std::vector<std::string>& remarks,
                                        std::vector<std::string>& problems) {
  if (!what.flags.empty() && plan.accept.empty()) {
    remarks.push_back(what.setup + ": not recorded (" + flag_codes(what.flags) +
                      "); put it right, or record it with --accept \"reason\"");
    return std::nullopt;
  }
  scale::RecordDraft draft;
  draft.kind = "calibration";
  draft.setup = what.setup;
  draft.made_at = plan.made_at;
  draft.made_by = plan.made_by;
  draft.content = what.content;
  auto record = reg.append_calibration(draft, room.text);
  if (record) {
    if (std::string words = dated_before(reg, *record); !words.empty()) remarks.push_back(std::move(words));
    return std::move(*record);
  }
  problems.push_back(what.setup + ": not recorded; " + record.error().message);
  return std::nullopt;
}

bool record_setups(const LabRoom& room, std::vector<SetupOutcome>& setups, const std::vector<Outcome>& outcomes,
                   const RecordPlan& plan, std::vector<std::string>& remarks, std::vector<std::string>& problems) {
  auto reg = register_of(room);
  if (!reg) {
    problems.push_back(reg.error().message);
    return false;
  }
  const std::size_t before = problems.size();
  for (SetupOutcome& setup : setups) {
    if (!setup.calibration) continue;
    const std::string accepted = setup.flags.empty() ? "" : plan.accept;
    setup.record =
        record_one(*reg, room, {setup.name, setup.flags, record_content(setup, outcomes, room.lab, accepted)}, plan,
                   remarks, problems);
  }
  return problems.size() == before;
}

}  // namespace gradus
