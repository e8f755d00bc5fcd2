// The pages of a room: one sheet a calibration, and the overview.
#pragma once

#include <set>
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
  std::string folder{};          // of the lab file; recorded paths of checked images start there
  std::set<std::string> only{};  // set-ups whose pages are written; empty: all. The overview has every one
};

// One line each.
struct ReportProblems {
  std::vector<std::string> misunderstood;  // records
  std::vector<std::string> unwritten;      // pages and pictures
};

// What can be written is; problems are added.
void write_room_report(const RoomReport& report, const ReportPlan& plan, ReportProblems& problems);

}  // namespace gradus
