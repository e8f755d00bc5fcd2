// From the shots of a run to the factor of every set-up, with what an expert would say of it.
#pragma once

#include <scale/register.h>
#include <scale/setup.h>

#include <optional>
#include <string>
#include <vector>

#include "flags.h"
#include "lab_room.h"
#include "outcome.h"

namespace gradus {

struct SetupOutcome {
  std::size_t setup = 0;  // place in the lab file's list
  std::string name;
  std::vector<std::size_t> outcomes;  // the images of SetupCalibration::shots, by their places
  std::size_t images = 0;             // all that belong to it, refused ones too
  std::optional<scale::SetupCalibration> calibration;
  std::optional<double> nominal;  // micrometres per pixel
  std::optional<RegisteredFactor> before;
  std::vector<scale::Warning> flags;  // what keeps it out of the register unless it is accepted
  std::vector<scale::Warning> warnings;
  std::optional<scale::MonteCarlo> monte_carlo;
  std::optional<std::chrono::year_month_day> due;  // when it must be calibrated again; absent: not stated
  std::optional<scale::Record> record;             // what was written

  // "calibrated", "flagged", "refused" (no shot could be used) or "no-shots"
  std::string status() const;
};

struct SetupRun {
  std::chrono::year_month_day today;
  std::size_t monte_carlo_trials = 0;  // 0: none
};

// One outcome a camera set-up, in the lab file's order. `before` has the register's factor of each set-up. A shot that
// fits another set-up better than its own gets a warning in `outcomes`.
std::vector<SetupOutcome> combine_setups(const scale::Lab& lab, std::vector<Outcome>& outcomes,
                                         const std::vector<std::optional<RegisteredFactor>>& before,
                                         const SetupRun& run);

}  // namespace gradus
