// Pictures through an eyepiece, mostly with a lab file: what `gradus reticle` makes of readings, made of pictures.
#pragma once

#include <string>
#include <vector>

#include "lab_options.h"
#include "lab_room.h"
#include "outcome.h"
#include "reticle_outcome.h"

namespace gradus {

// Why the set-up that was named cannot be calibrated by `images` pictures with a reticle of so many divisions (0: as
// of a camera); empty: it can, or none was named. `one_only`: the result is kept, and a set-up has one.
std::string eyepiece_problem(const LabRoom& room, const LabOptions& lab, int divisions, std::size_t images,
                             bool one_only);

// What one picture came to, without a room.
ReticleOutcome reticle_outcome_of(const Outcome& outcome);

// Every picture judged by the set-up, told and, when asked, recorded. `recorded` is false when the register could not
// be written.
std::vector<ReticleOutcome> conclude_eyepiece(const LabRoom& room, const LabOptions& lab, const RecordPlan& plan,
                                              const std::vector<Outcome>& outcomes,
                                              const std::vector<std::optional<RegisteredFactor>>& before, bool quiet,
                                              bool& recorded);

// Beneath the table: flags, records and, with `budget`, the budgets.
std::string eyepiece_verdicts(const std::vector<ReticleOutcome>& verdicts, bool budget);

}  // namespace gradus
