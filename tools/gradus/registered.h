// What a check holds images against: the current calibrations of the register, with the room's lab file.
#pragma once

#include <scale/drift.h>
#include <scale/register.h>

#include <optional>
#include <string>
#include <vector>

#include "lab_room.h"

namespace gradus {

struct RegisteredRoom {
  // One a set-up of the lab file; `both` is absent when it has no current calibration.
  std::vector<scale::RegisteredSetup> setups;
  std::vector<std::optional<std::int64_t>> record;  // of that calibration
  std::vector<std::string> due;                     // day by which it is to be calibrated again; empty: not stated
  std::vector<scale::ListedRecord> records;         // the whole register, in order
  std::string last_made_at;                         // of its last record
};

// Verifies the chain first. Fails, with what to do next, when there is no register or it is not as it was written.
scale::Registered<RegisteredRoom> registered_room(const LabRoom& room);

// The set-up as the lab file had it when it was calibrated; none: the register does not know it any more.
std::optional<scale::LabSetup> setup_then(const scale::Register& reg, const scale::Record& record,
                                          const std::string& name);

}  // namespace gradus
