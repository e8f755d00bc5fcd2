#include "run_report.h"

#include <algorithm>
#include <filesystem>

#include "room_report.h"
#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

using nlohmann::json;

SheetSource source_of(const SetupOutcome& setup, const std::vector<Outcome>& outcomes, const scale::Lab& lab,
                      const ReportPlan& plan, const std::string& accepted) {
  const std::string content = record_content(setup, outcomes, lab, setup.flags.empty() ? "" : accepted);
  SheetSource source{setup.name, json::parse(content), lab, plan.printed_at, std::nullopt};
  if (setup.record) source.record = page_record({*setup.record, std::nullopt, std::nullopt});
  return source;
}

// Those of this run first, what the register holds of the other set-ups after them, in the lab file's order.
std::vector<SheetSource> room_sources(const scale::Lab& lab, const std::vector<SetupOutcome>& setups,
                                      const std::vector<Outcome>& outcomes, const RegisterFacts* facts,
                                      const ReportPlan& plan, const std::string& accepted,
                                      std::vector<std::string>& problems) {
  std::vector<SheetSource> kept;
  if (facts != nullptr) kept = current_sources(lab, *facts, problems);
  std::vector<SheetSource> sources;
  for (const scale::LabSetup& setup : lab.setups) {
    const auto now = std::find_if(setups.begin(), setups.end(),
                                  [&](const SetupOutcome& one) { return one.name == setup.name && one.calibration; });
    const auto before =
        std::find_if(kept.begin(), kept.end(), [&](const SheetSource& one) { return one.setup == setup.name; });
    if (now != setups.end())
      sources.push_back(source_of(*now, outcomes, lab, plan, accepted));
    else if (before != kept.end())
      sources.push_back(std::move(*before));
  }
  return sources;
}

std::vector<SheetSource> image_sources(const std::vector<Outcome>& outcomes, const ReportPlan& plan) {
  std::vector<SheetSource> sources;
  for (const Outcome& outcome : outcomes)
    if (outcome.calibration)
      sources.push_back({valid_utf8(outcome.image), json::parse(image_content(outcome)), std::nullopt, plan.printed_at,
                         std::nullopt});
  return sources;
}

}  // namespace

std::vector<std::string> report_run(const std::optional<LabRoom>& room, const std::vector<SetupOutcome>& setups,
                                    const std::vector<Outcome>& outcomes, const ReportPlan& plan,
                                    const std::string& accepted) {
  RoomReport report;
  ReportProblems problems;
  RegisterReading reading;
  if (room) reading = read_register(room->register_path());
  if (!reading.problem.empty()) return {reading.problem};
  if (reading.facts) report.facts = &*reading.facts;
  if (room) report.lab = &room->lab, report.folder = std::filesystem::path(room->path).parent_path().string();
  report.sources = room
                       ? room_sources(room->lab, setups, outcomes, report.facts, plan, accepted, problems.misunderstood)
                       : image_sources(outcomes, plan);
  for (const Outcome& outcome : outcomes)
    if (!outcome.calibration)
      report.refused.emplace_back(valid_utf8(outcome.image), valid_utf8(outcome.reason.message));
  write_room_report(report, plan, problems);
  std::vector<std::string> lines = std::move(problems.misunderstood);
  lines.insert(lines.end(), problems.unwritten.begin(), problems.unwritten.end());
  return lines;
}

}  // namespace gradus
