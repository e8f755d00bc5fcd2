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

// Factor, U and k that the record of a calibration holds.
struct RecordedFactor {
  scale::CalibrationFactor factor;
  bool per_division = false;  // of a reticle; else per pixel
};
std::optional<RecordedFactor> recorded_factor(const scale::Record& record);

// The present time, "2026-02-28T09:30:00Z".
std::string utc_now();

// The factor that the register beside the lab file holds of every set-up; nothing of any when there is no register.
// `problem` says in one line why an existing register could not be read.
std::vector<std::optional<RegisteredFactor>> registered_factors(const LabRoom& room, std::string& problem);

// Opens the register of the room for writing, and makes it when there is none.
scale::Registered<scale::Register> register_of(const LabRoom& room);

// One calibration on its way: flagged ones are named in `remarks` unless accepted, and so is one that is dated before
// the record in front of it; `problems` says what could not be written. The record when it was written.
struct Recordable {
  std::string setup;
  std::vector<scale::Warning> flags;
  std::string content;  // JSON
};
std::optional<scale::Record> record_one(scale::Register& reg, const LabRoom& room, const Recordable& what,
                                        const RecordPlan& plan, std::vector<std::string>& remarks,
                                        std::vector<std::string>& problems);

// Records set-up by set-up, so that what was acknowledged stays when a later one fails. `remarks` as of one. False when
// one could not be written; `problems` says why.
bool record_setups(const LabRoom& room, std::vector<SetupOutcome>& setups, const std::vector<Outcome>& outcomes,
                   const RecordPlan& plan, std::vector<std::string>& remarks, std::vector<std::string>& problems);

}  // namespace gradus
