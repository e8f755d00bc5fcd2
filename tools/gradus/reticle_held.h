// What the register holds of the reticle set-ups of a room.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "lab_room.h"
#include "recording.h"

namespace gradus {

struct HeldReticle {
  const scale::LabSetup* setup = nullptr;
  std::optional<scale::CalibrationFactor> um_per_division;  // absent: not calibrated
  std::int64_t record = 0;
  std::string made_at;  // UTC
  std::string scale;    // name of the reference
  bool budget_complete = false;
  std::optional<std::chrono::year_month_day> due;

  std::string date() const { return made_at.substr(0, 10); }
};

HeldReticle not_calibrated(const scale::LabSetup& setup);

// What a record of a reticle's calibration says of this set-up; without a factor when it is of something else.
HeldReticle held_reticle(const scale::LabSetup& setup, const scale::Record& record);

// All set-ups of kind reticle, in the lab file's order. `problem` says in one line why the register could not be read.
std::vector<HeldReticle> held_reticles(const LabRoom& room, std::string& problem);

}  // namespace gradus
