// The page of a check, from a run or from the register.
#pragma once

#include <scale/check_page.h>

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "check_json.h"
#include "report_pages.h"
#include "setup_history.h"
#include "sheet_values.h"

namespace gradus {

// One of `results` of gradus/check/1 or of a check's record; those of a record do not say their set-up.
scale::CheckedImage checked_image(const nlohmann::json& result, const std::string& setup);

// Charts of a set-up's checks, without the counts of a run.
scale::SetupChecks setup_checks(const SetupHistory& history);

// What the register holds of the checks against this calibration; no images when there are none.
scale::CheckPage recorded_check_page(const scale::Lab& lab, const std::string& setup, std::int64_t calibration,
                                     const RegisterFacts& facts);

// Writes the page of a run. `histories`: one a set-up of the run with a calibration, in their order. Problems, one line
// each.
std::vector<std::string> write_check_report(const CheckRun& run, const std::vector<SetupHistory>& histories,
                                            const ReportPlan& plan);

}  // namespace gradus
