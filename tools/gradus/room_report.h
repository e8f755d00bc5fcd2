// The pages of a room: one sheet a calibration, and the overview.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "report_pages.h"

namespace gradus {

struct RoomReport {
  const scale::Lab* lab = nullptr;                           // null without a lab file
  const RegisterFacts* facts = nullptr;                      // null without a register
  std::vector<SheetSource> sources;                          // in the order of the sheets
  std::vector<std::pair<std::string, std::string>> refused;  // images of a run: path, reason
};

// Problems, one line each; what can be written is.
std::vector<std::string> write_room_report(const RoomReport& report, const ReportPlan& plan);

}  // namespace gradus
