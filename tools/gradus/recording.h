// Calibrations on their way into the register, and out of it again.
#pragma once

#include <string>
#include <vector>

#include "setups.h"

namespace gradus {

struct RecordPlan {
  std::string made_at;  // UTC
  std::string made_by;
  std::string accept;  // why flagged set-ups are recorded all the same; empty: they are left out
};

// The present time, "2026-02-28T09:30:00Z".
std::string utc_now();

// The factor that the register beside the lab file holds of every set-up; nothing of any when there is no register.
// `problem` says in one line why an existing register could not be read.
std::vector<std::optional<RegisteredFactor>> registered_factors(const LabRoom& room, std::string& problem);

// Opens the register of the room for writing, and makes it when there is none.
scale::Registered<scale::Register> register_of(const LabRoom& room);

// Records set-up by set-up, so that what was acknowledged stays when a later one fails. Flagged ones are left out and
// named in `left_out`. False when one could not be written; `problems` says why.
bool record_setups(const LabRoom& room, std::vector<SetupOutcome>& setups, const std::vector<Outcome>& outcomes,
                   const RecordPlan& plan, std::vector<std::string>& left_out, std::vector<std::string>& problems);

}  // namespace gradus
