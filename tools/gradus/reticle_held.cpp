#include "reticle_held.h"

#include <scale/lab.h>

#include <nlohmann/json.hpp>

namespace gradus {

HeldReticle not_calibrated(const scale::LabSetup& setup) { return {&setup, {}, 0, "", "", false, {}}; }

HeldReticle held_reticle(const scale::LabSetup& setup, const scale::Record& record) {
  HeldReticle held = not_calibrated(setup);
  const auto factor = recorded_factor(record);
  if (!factor || !factor->per_division) return held;
  const nlohmann::json content = nlohmann::json::parse(record.draft.content, nullptr, false);
  held.um_per_division = factor->factor;
  held.record = record.number;
  held.made_at = record.draft.made_at;
  held.scale = content.value("scale", "");
  held.budget_complete = content.value("/result/um_per_division/budget_complete"_json_pointer, false);
  const nlohmann::json due = content.value("/result/due"_json_pointer, nlohmann::json());
  if (due.is_string()) held.due = scale::parse_date(due.get<std::string>());
  return held;
}

std::vector<HeldReticle> held_reticles(const LabRoom& room, std::string& problem) {
  std::vector<HeldReticle> list;
  for (const scale::LabSetup& setup : room.lab.setups)
    if (setup.reticle) list.push_back(not_calibrated(setup));
  const auto reg = scale::Register::open(room.register_path(), scale::RegisterUse::read);
  if (!reg) {
    if (reg.error().code != "missing") problem = reg.error().message;
    return list;
  }
  for (HeldReticle& held : list) {
    const auto record = reg->current_calibration(held.setup->name);
    if (!record) {
      problem = record.error().message;
      return list;
    }
    if (*record) held = held_reticle(*held.setup, **record);
  }
  return list;
}

}  // namespace gradus
