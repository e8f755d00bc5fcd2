#include "run_report.h"

#include <algorithm>
#include <filesystem>

#include "room_report.h"
#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

using nlohmann::json;

SheetSource source_of(const SetupOutcome& setup, const std::vector<Outcome>& outcomes, const RunReport& run) {
  const scale::Lab& lab = run.room->lab;
  const std::string content = record_content(setup, outcomes, lab, setup.flags.empty() ? "" : run.accepted);
  SheetSource source{setup.name, json::parse(content), lab, run.plan.printed_at, std::nullopt};
  if (setup.record) source.record = page_record({*setup.record, std::nullopt, std::nullopt});
  return source;
}

// Those of this run and, of the other set-ups, what the register holds, in the lab file's order.
std::vector<SheetSource> room_sources(const scale::Lab& lab, std::vector<SheetSource> of_run,
                                      const RegisterFacts* facts, std::vector<std::string>& problems) {
  std::vector<SheetSource> kept;
  if (facts != nullptr) kept = current_sources(lab, *facts, problems);
  std::vector<SheetSource> sources;
  for (const scale::LabSetup& setup : lab.setups) {
    const auto named = [&](const SheetSource& one) { return one.setup == setup.name; };
    const auto now = std::find_if(of_run.begin(), of_run.end(), named);
    const auto before = std::find_if(kept.begin(), kept.end(), named);
    if (now != of_run.end())
      sources.push_back(std::move(*now));
    else if (before != kept.end())
      sources.push_back(std::move(*before));
  }
  return sources;
}

std::vector<SheetSource> image_sources(const std::vector<Outcome>& outcomes, const RunReport& run) {
  std::vector<SheetSource> sources;
  for (const Outcome& outcome : outcomes)
    if (outcome.calibration)
      sources.push_back({valid_utf8(outcome.image), json::parse(image_content(outcome)), std::nullopt,
                         run.plan.printed_at, std::nullopt, run.stated});
  return sources;
}

// What a reticle is called where no lab file names it.
std::string name_of(const ReticleOutcome& outcome) {
  if (!outcome.set.setup.empty()) return valid_utf8(outcome.set.setup);
  return outcome.picture.empty() ? "Eyepiece reticle" : valid_utf8(outcome.picture);
}

SheetSource source_of(const ReticleOutcome& outcome, const RunReport& run) {
  const scale::Lab* lab = run.room ? &run.room->lab : nullptr;
  const std::string content = reticle_record_content(outcome, lab, outcome.flags.empty() ? "" : run.accepted);
  SheetSource source{name_of(outcome),    json::parse(content), std::nullopt,
                     run.plan.printed_at, std::nullopt,         run.stated};
  if (lab != nullptr) source.lab = *lab;
  if (outcome.record) source.record = page_record({*outcome.record, std::nullopt, std::nullopt});
  return source;
}

std::vector<std::string> write_run(RoomReport report, const RunReport& run) {
  ReportProblems problems;
  RegisterReading reading;
  if (run.room) {
    reading = read_register(run.room->register_path());
    if (!reading.problem.empty()) return {reading.problem};
    if (reading.facts) report.facts = &*reading.facts;
    report.lab = &run.room->lab;
    report.folder = std::filesystem::path(run.room->path).parent_path().string();
    report.sources = room_sources(*report.lab, std::move(report.sources), report.facts, problems.misunderstood);
  }
  write_room_report(report, run.plan, problems);
  std::vector<std::string> lines = std::move(problems.misunderstood);
  lines.insert(lines.end(), problems.unwritten.begin(), problems.unwritten.end());
  return lines;
}

}  // namespace

std::vector<std::string> report_run(const std::vector<SetupOutcome>& setups, const std::vector<Outcome>& outcomes,
                                    const RunReport& run) {
  RoomReport report;
  if (!run.room) report.sources = image_sources(outcomes, run);
  for (const SetupOutcome& setup : setups)
    if (setup.calibration) report.sources.push_back(source_of(setup, outcomes, run));
  for (const Outcome& outcome : outcomes)
    if (!outcome.calibration)
      report.refused.emplace_back(valid_utf8(outcome.image), valid_utf8(outcome.reason.message));
  return write_run(std::move(report), run);
}

std::vector<std::string> report_reticles(const std::vector<ReticleOutcome>& outcomes, const RunReport& run) {
  RoomReport report;
  for (const ReticleOutcome& outcome : outcomes) {
    if (run.room) report.only.insert(outcome.set.setup);
    if (outcome.calibration)
      report.sources.push_back(source_of(outcome, run));
    else
      report.refused.emplace_back(name_of(outcome), valid_utf8(outcome.reason.message));
  }
  return write_run(std::move(report), run);
}

}  // namespace gradus
