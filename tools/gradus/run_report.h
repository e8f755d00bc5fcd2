// The pages of a run of calibrate or reticle: its set-ups, or its images or readings when there is no lab file.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "recording.h"
#include "report_pages.h"
#include "reticle_outcome.h"

namespace gradus {

// What both rest on.
struct RunReport {
  const std::optional<LabRoom>& room;
  const ReportPlan& plan;        // `printed_at` is the time of the run
  const std::string& accepted;   // why flags were let pass
  scale::StatedScales stated{};  // without a lab file
};

// Problems, one line each.
std::vector<std::string> report_run(const std::vector<SetupOutcome>& setups, const std::vector<Outcome>& outcomes,
                                    const RunReport& run);

// Of reticles, by eye or from pictures: only their own sheets, which others of the room do not change.
std::vector<std::string> report_reticles(const std::vector<ReticleOutcome>& outcomes, const RunReport& run);

}  // namespace gradus
