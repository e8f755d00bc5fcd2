#include "recording.h"

#include <chrono>
#include <cstdio>
#include <ctime>

#include "setups_json.h"

namespace gradus {
namespace {

std::string flag_codes(const SetupOutcome& setup) {
  std::string codes;
  for (const scale::Warning& flag : setup.flags) codes += (codes.empty() ? "" : ", ") + flag.code;
  return codes;
}

std::optional<RegisteredFactor> factor_in(const scale::Record& record) {
  // A record of a later schema within 1 may hold more, never less.
  const nlohmann::json content = nlohmann::json::parse(record.draft.content, nullptr, false);
  if (content.is_discarded()) return std::nullopt;
  const nlohmann::json factor = content.value("/result/um_per_pixel"_json_pointer, nlohmann::json());
  if (!factor.is_object()) return std::nullopt;
  return RegisteredFactor{record.number, factor.value("value", 0.0), factor.value("expanded_uncertainty", 0.0)};
}

}  // namespace

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
    if (*record) factors[i] = factor_in(**record);
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

bool record_setups(const LabRoom& room, std::vector<SetupOutcome>& setups, const std::vector<Outcome>& outcomes,
                   const RecordPlan& plan, std::vector<std::string>& left_out, std::vector<std::string>& problems) {
  auto reg = register_of(room);
  if (!reg) {
    problems.push_back(reg.error().message);
    return false;
  }
  bool good = true;
  for (SetupOutcome& setup : setups) {
    if (!setup.calibration) continue;
    if (!setup.flags.empty() && plan.accept.empty()) {
      left_out.push_back(setup.name + ": not recorded (" + flag_codes(setup) +
                         "); put it right, or record it with --accept \"reason\"");
      continue;
    }
    scale::RecordDraft draft;
    draft.kind = "calibration";
    draft.setup = setup.name;
    draft.made_at = plan.made_at;
    draft.made_by = plan.made_by;
    draft.content = record_content(setup, outcomes, room.lab, setup.flags.empty() ? "" : plan.accept);
    auto record = reg->append_calibration(draft, room.text);
    if (record) {
      setup.record = std::move(*record);
      continue;
    }
    problems.push_back(setup.name + ": not recorded; " + record.error().message);
    good = false;
  }
  return good;
}

}  // namespace gradus
