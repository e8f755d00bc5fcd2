// What the room makes of a reticle's calibration, from readings or from a picture: flags, when it is due, its record.
#pragma once

#include "recording.h"
#include "reticle_outcome.h"

namespace gradus {

// Nominal factor, flags and due day by the lab file.
void judge_reticle(ReticleOutcome& outcome, const LabRoom& room, const std::chrono::year_month_day& today);

// Refusals, flags and warnings, one line each.
void tell_reticles(const std::vector<ReticleOutcome>& outcomes, bool quiet);

// Flagged ones are left out unless accepted. False when the register could not be written.
bool record_reticles(std::vector<ReticleOutcome>& outcomes, const LabRoom& room, const RecordPlan& plan);

}  // namespace gradus
