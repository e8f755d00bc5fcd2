#include "report.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>

#include "lab_room.h"
#include "messages.h"
#include "recording.h"
#include "report_options.h"
#include "room_report.h"

namespace gradus {
namespace {

constexpr int kDone = 0, kNotSound = 1, kUnusable = 2;

std::string misfit(const ReportOptions& options) {
  if (options.plan.folder.empty()) return "--report DIR says where the pages go";
  if (!options.plan.printed_at.empty() && !scale::is_utc_time(options.plan.printed_at))
    return "--at: '" + options.plan.printed_at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z";
  return "";
}

int fail(const std::string& problem, int code) {
  complain(problem);
  return code;
}

bool has_setup(const scale::Lab& lab, const std::string& name) {
  return std::any_of(lab.setups.begin(), lab.setups.end(),
                     [&](const scale::LabSetup& setup) { return setup.name == name; });
}

}  // namespace

CLI::App* setup_report(CLI::App& app, ReportOptions& options) {
  CLI::App* verb = app.add_subcommand("report", "Write the pages to read, print and sign");
  verb->add_option("--lab", options.lab, "The room's lab file; the register lies beside it")
      ->type_name("FILE")
      ->required();
  verb->add_option("--setup", options.setup, "Write the sheet of this set-up alone, and the room's overview")
      ->type_name("NAME");
  verb->add_option("--images", options.plan.search.folders,
                   "Look for the shots in this folder too, when they are not where they were")
      ->type_name("DIR")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  add_report_options(*verb, options.plan, "Write the pages into this folder");
  verb->add_option("--at", options.plan.printed_at, "Time of printing in UTC, like 2026-02-28T09:30:00Z (default: now)")
      ->type_name("TIME");
  verb->final_callback([&options] {
    if (const std::string problem = misfit(options); !problem.empty()) throw CLI::ValidationError(problem);
  });
  verb->footer(
      "Example: gradus report --lab lab.toml --report pages/ --pdf\n"
      "Exit: 0 written; 1 the register is not as it was written (then nothing is), or a record cannot be\n"
      "understood; 2 bad usage, no register, or a page that could not be written.");
  return verb;
}

int run_report(const ReportOptions& options) {
  std::vector<std::string> problems;
  std::optional<LabRoom> room = read_lab_room(options.lab, problems);
  for (const std::string& problem : problems) complain(problem);
  if (!room) return kUnusable;
  if (!options.setup.empty() && !has_setup(room->lab, options.setup))
    return fail(no_such_setup(*room, options.setup), kUnusable);
  const RegisterReading reading = read_register(room->register_path());
  if (!reading.facts && reading.problem.empty())
    return fail(room->register_path() + ": there is no register yet; gradus calibrate --record makes it", kUnusable);
  if (!reading.facts) return fail(reading.problem, reading.unsound ? kNotSound : kUnusable);
  for (const std::string& images : options.plan.search.folders)
    if (!std::filesystem::is_directory(images))
      return fail(images + ": there is no such folder; --images names one that holds the shots", kUnusable);
  if (const std::string problem = report_folder_problem(options.plan.folder); !problem.empty())
    return fail(problem, kUnusable);
  ReportPlan plan = options.plan;
  if (plan.printed_at.empty()) plan.printed_at = utc_now();
  const std::string folder = std::filesystem::path(options.lab).parent_path().string();
  plan.search.folders.push_back(folder);
  RoomReport report{&room->lab, &*reading.facts, {}, {}, folder, {}};
  if (!options.setup.empty()) report.only = {options.setup};
  ReportProblems problems_of_pages;
  report.sources = current_sources(room->lab, *reading.facts, problems_of_pages.misunderstood);
  write_room_report(report, plan, problems_of_pages);
  for (const std::string& line : problems_of_pages.misunderstood) complain(line);
  for (const std::string& line : problems_of_pages.unwritten) complain(line);
  if (!problems_of_pages.unwritten.empty()) return kUnusable;
  return problems_of_pages.misunderstood.empty() ? kDone : kNotSound;
}

}  // namespace gradus
