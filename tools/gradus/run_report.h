// The pages of a run of calibrate: its set-ups, or its images when there is no lab file.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "recording.h"
#include "report_pages.h"

namespace gradus {

// `plan.printed_at` is the time of the run, `accepted` why flags were let pass. Problems, one line each.
std::vector<std::string> report_run(const std::optional<LabRoom>& room, const std::vector<SetupOutcome>& setups,
                                    const std::vector<Outcome>& outcomes, const ReportPlan& plan,
                                    const std::string& accepted);

}  // namespace gradus
