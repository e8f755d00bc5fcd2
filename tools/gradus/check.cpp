#include "check.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>

#include "check_json.h"
#include "check_report.h"
#include "check_table.h"
#include "checked_before.h"
#include "image_options.h"
#include "inputs.h"
#include "jobs.h"
#include "lab_options.h"
#include "messages.h"
#include "progress.h"
#include "report_options.h"
#include "setup_history.h"

namespace gradus {
namespace {

constexpr int kUnusable = 2;

void add_inputs(CLI::App& verb, CheckOptions& options) {
  add_image_arguments(verb, options.images, options.recursive);
  verb.add_option("--lab", options.lab, "The room's lab file; its register lies beside it")
      ->type_name("FILE")
      ->required();
  verb.add_option("--setup", options.setup, "All images belong to this set-up, whatever their names")
      ->type_name("NAME");
  verb.add_option("--since", options.since, "Only files written on this day (UTC) or later: 2026-02-28")
      ->type_name("DATE");
  verb.add_flag("--tags-only", options.tags_only, "By what the files say alone: no pixel is looked at");
  verb.add_flag("--again", options.again, "Also images that were checked before and are unchanged");
  add_channel_option(verb, options.channel);
}

void add_outputs(CLI::App& verb, CheckOptions& options) {
  verb.add_option("--json", options.output.json, "Write the results as JSON; - is standard output")->type_name("FILE");
  verb.add_option("--csv", options.output.csv, "Write one row an image as CSV; - is standard output")
      ->type_name("FILE");
  add_report_options(verb, options.report, "Write the page of this check into this folder: verdicts, charts, evidence",
                     false);
  verb.add_flag("--record", options.record, "Write the results into the register");
  verb.add_option("--operator", options.plan.made_by, "Who checks, for the register")
      ->type_name("NAME")
      ->check(not_blank());
  verb.add_option("--at", options.plan.made_at, "Time of the check in UTC, like 2026-02-28T09:30:00Z (default: now)")
      ->type_name("TIME");
  verb.add_option("--jobs", options.jobs, "Threads in all (default: as many as the machine has)")
      ->type_name("N")
      ->check(CLI::Range(1, kMostJobs).description(""));
  verb.add_flag("--strict", options.strict, "Exit 1 also when an image is unverifiable");
  verb.add_flag("--quiet", options.quiet, "Print only what has drifted or does not belong");
}

// What options say together; empty when they fit.
std::string misfit(const CheckOptions& options) {
  if (std::string problem = report_misfit(options.report); !problem.empty()) return problem;
  if (!options.since.empty() && !scale::parse_date(options.since))
    return "--since: '" + options.since + "' is no day; write it like 2026-02-28";
  if (!options.plan.made_at.empty() && !scale::is_utc_time(options.plan.made_at))
    return "--at: '" + options.plan.made_at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z";
  if (!options.record && !options.plan.made_by.empty())
    return "--operator says something to the register; add --record";
  if (options.record && options.plan.made_by.empty())
    return "--record needs --operator NAME, who answers for the check";
  return "";
}

std::optional<LabRoom> room_of(const CheckOptions& options) {
  std::vector<std::string> problems;
  std::optional<LabRoom> room = read_lab_room(options.lab, problems);
  const auto named = [&](const scale::LabSetup& setup) { return setup.name == options.setup && !setup.reticle; };
  if (room && !options.setup.empty() && std::none_of(room->lab.setups.begin(), room->lab.setups.end(), named))
    problems.push_back(no_such_setup(*room, options.setup, SetupKind::camera));
  for (const std::string& problem : problems) complain(problem);
  return problems.empty() ? std::move(room) : std::nullopt;
}

std::vector<Examination> examinations(const LabRoom& room, const CheckOptions& options) {
  Examination general;
  general.channel = options.channel;
  std::vector<Examination> list;
  for (std::size_t i = 0; i < room.lab.setups.size(); ++i) {
    Examination how = examination_of(room.lab, i, {}, general);
    if (const auto& region = room.lab.setups[i].check_region)
      how.region = cv::Rect((*region)[0], (*region)[1], (*region)[2], (*region)[3]);
    list.push_back(std::move(how));
  }
  return list;
}

std::string folder_of(const LabRoom& room) { return std::filesystem::path(room.path).parent_path().string(); }

// What the register says of each set-up's earlier checks, empty for those without a calibration.
std::vector<std::vector<RecordedCheck>> earlier_checks(const RegisteredRoom& registered) {
  std::vector<std::vector<RecordedCheck>> list;
  for (const auto& record : registered.record)
    list.push_back(record ? recorded_checks(registered.records, *record) : std::vector<RecordedCheck>{});
  return list;
}

bool is_older(const Input& input, const std::string& since) {
  if (since.empty() || !input.problem.empty()) return false;
  const auto mark = mark_of(input.path);
  return mark && utc_of(mark->modified) < since;
}

// Takes out what is older than --since, and what was found good before; counts both, the latter by set-up too.
std::vector<Input> still_to_check(std::vector<Input> inputs, const CheckOptions& options, const LabRoom& room,
                                  const std::vector<std::vector<RecordedCheck>>& earlier, CheckRun& run) {
  std::vector<CheckedBefore> known;
  for (const auto& checks : earlier) known.emplace_back(checks, folder_of(room));
  std::vector<Input> rest;
  for (Input& input : inputs) {
    if (is_older(input, options.since)) {
      ++run.older;
      continue;
    }
    const RecordedCheck* before = options.again || !input.setup || !input.problem.empty() || input.refusal
                                      ? nullptr
                                      : known[*input.setup].find(input.path, options.tags_only);
    // What was found wrong stays on the list until it is put right.
    if (before == nullptr || !before->good()) {
      rest.push_back(std::move(input));
      continue;
    }
    ++run.skipped;
    ++run.setups[*input.setup].skipped;
  }
  return rest;
}

// Errors and warnings of one image, as soon as it is done and in the order of the inputs.
void tell(const CheckOutcome& outcome, bool quiet) {
  if (!outcome.readable) complain(outcome.judgement.evidence.front().message);
  if (quiet) return;
  for (const scale::Warning& warning : outcome.warnings) warn(outcome.image + ": " + warning.message);
}

void check_all(CheckRun& run, const std::vector<Input>& inputs, const CheckPlan& plan, const CheckOptions& options) {
  run.outcomes.resize(inputs.size());
  Progress progress(inputs.size(), !options.quiet);
  run_in_order(
      inputs.size(), options.jobs > 0 ? options.jobs : hardware_jobs(),
      [&](std::size_t i) { run.outcomes[i] = check_image(inputs[i], plan); },
      [&](std::size_t i) {
        progress.make_way();
        tell(run.outcomes[i], options.quiet);
        progress.advance();
      });
}

bool is_new(const CheckOutcome& outcome, const CheckedBefore& known) {
  return outcome.mark && known.find(outcome.image, outcome.header_only) == nullptr;
}

// Records what is new of every set-up. False when the register could not be written.
bool record_checks(CheckRun& run, const LabRoom& room, const CheckOptions& options,
                   const std::vector<std::vector<RecordedCheck>>& earlier) {
  auto reg = scale::Register::open(room.register_path(), scale::RegisterUse::write);
  if (!reg) {
    complain(reg.error().message);
    return false;
  }
  for (CheckedSetup& setup : run.setups) {
    if (!setup.calibration) continue;
    const CheckedBefore known(earlier[setup.setup], folder_of(room));
    std::vector<const CheckOutcome*> fresh;
    for (const CheckOutcome& outcome : run.outcomes)
      if (outcome.setup == setup.setup && is_new(outcome, known)) fresh.push_back(&outcome);
    if (fresh.empty()) continue;
    const scale::RecordDraft draft{
        "check",        setup.name,           setup.calibration,
        run.checked_at, options.plan.made_by, check_content(fresh, setup, room.lab, folder_of(room))};
    auto written = reg->append(std::span(&draft, 1));
    if (!written) {
      complain(setup.name + ": not recorded; " + written.error().message);
      return false;
    }
    setup.record = written->front();
  }
  return true;
}

// Charts over what was recorded, this run included: one a set-up with a calibration.
std::vector<SetupHistory> add_alerts(CheckRun& run, std::vector<std::vector<RecordedCheck>>& earlier) {
  std::vector<SetupHistory> histories;
  for (CheckedSetup& setup : run.setups) {
    if (!setup.calibration) continue;
    std::vector<RecordedCheck>& checks = earlier[setup.setup];
    if (setup.record) {
      const auto fresh = recorded_checks({scale::ListedRecord{*setup.record, {}, {}}}, *setup.calibration);
      checks.insert(checks.end(), fresh.begin(), fresh.end());
    }
    histories.push_back(history_of(setup.name, *setup.calibration, checks, agreed_charts(run.lab, setup.name)));
    setup.alerts = histories.back().alerts();
  }
  return histories;
}

// False when the page could not be written.
bool write_page_of(const CheckRun& run, const std::vector<SetupHistory>& histories, const CheckOptions& options) {
  if (options.report.folder.empty()) return true;
  ReportPlan plan = options.report;
  plan.printed_at = run.checked_at;
  const std::vector<std::string> problems = write_check_report(run, histories, plan);
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

void conclude(CheckRun& run, const RegisteredRoom& registered, const std::vector<std::vector<RecordedCheck>>& earlier) {
  for (const CheckOutcome& outcome : run.outcomes)
    if (outcome.setup) ++run.setups[*outcome.setup].count[static_cast<std::size_t>(outcome.judgement.verdict)];
  for (CheckedSetup& setup : run.setups) {
    if (!setup.calibration) continue;
    const LastGood good = last_good(earlier[setup.setup], *setup.calibration);
    setup.last_good = good.made_at;
    if (setup.count[static_cast<std::size_t>(scale::Verdict::drifted)] == 0) continue;
    std::vector<scale::ListedRecord> own;
    for (const scale::ListedRecord& listed : registered.records)
      if (listed.record.draft.setup == setup.name) own.push_back(listed);
    setup.affected = affected_records(own, {"", good.record});
  }
}

// False when an output could not be written; what can be written still is.
bool write_outputs(const CheckRun& run, const CheckOptions& options) {
  std::vector<std::string> problems;
  if (!options.output.json.empty()) problems.push_back(deliver(options.output.json, check_json(run)));
  if (!options.output.csv.empty()) problems.push_back(deliver(options.output.csv, check_csv(run)));
  const std::string text = options.quiet ? check_list(run) : check_table(run);
  if (options.output.json != "-" && options.output.csv != "-" && !text.empty()) problems.push_back(deliver("-", text));
  problems.erase(std::remove(problems.begin(), problems.end(), ""), problems.end());
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

int exit_code(const CheckRun& run, bool strict) {
  const auto bad = [&](const CheckOutcome& outcome) {
    const scale::Verdict verdict = outcome.judgement.verdict;
    return !outcome.readable || verdict == scale::Verdict::drifted || verdict == scale::Verdict::mismatch ||
           (strict && verdict == scale::Verdict::unverifiable);
  };
  const auto unreadable = [](const CheckOutcome& outcome) { return !outcome.readable; };
  if (!run.outcomes.empty() && std::all_of(run.outcomes.begin(), run.outcomes.end(), unreadable) && run.skipped == 0)
    return kUnusable;
  return std::any_of(run.outcomes.begin(), run.outcomes.end(), bad) ? 1 : 0;
}

// Everything but the options is sound from here on.
int run_room(const CheckOptions& options, const LabRoom& room, const RegisteredRoom& registered, const InputList& list,
             const std::string& now) {
  CheckRun run{room.lab, {}, {}, 0, now, 0};
  for (std::size_t i = 0; i < room.lab.setups.size(); ++i) {
    CheckedSetup setup;
    setup.setup = i;
    setup.name = room.lab.setups[i].name;
    setup.calibration = registered.record[i];
    run.setups.push_back(std::move(setup));
  }
  std::vector<Input> listed = list.all();
  for (Input& input : listed) assign_setup(input, room.lab, options.setup, true);
  std::vector<std::vector<RecordedCheck>> earlier = earlier_checks(registered);
  const std::vector<Input> inputs = still_to_check(std::move(listed), options, room, earlier, run);
  const CheckPlan plan{room, registered, examinations(room, options), now, options.tags_only, options.record};
  check_all(run, inputs, plan, options);
  conclude(run, registered, earlier);
  const bool recorded = !options.record || record_checks(run, room, options, earlier);
  const std::vector<SetupHistory> histories = add_alerts(run, earlier);
  const bool reported = write_page_of(run, histories, options);
  const bool written = write_outputs(run, options) && reported;
  return written && recorded ? exit_code(run, options.strict) : kUnusable;
}

int fail(const std::string& problem) {
  complain(problem);
  return kUnusable;
}

}  // namespace

CLI::App* setup_check(CLI::App& app, CheckOptions& options) {
  CLI::App* verb = app.add_subcommand("check", "Hold images against the scale that their set-up is registered with");
  add_inputs(*verb, options);
  add_outputs(*verb, options);
  verb->final_callback([&options] {
    if (const std::string problem = misfit(options); !problem.empty()) throw CLI::ValidationError(problem);
  });
  verb->footer(
      "Examples: gradus check today/ --recursive --lab lab.toml\n"
      "          gradus check pictures/ --recursive --lab lab.toml --record --operator \"nightly job\" --quiet\n"
      "Exit: 0 nothing has drifted; 1 an image has drifted, does not belong to its set-up or is unreadable (--strict:\n"
      "or unverifiable); 2 bad usage, no register or a broken one, no image that could be read, or an output that\n"
      "could not be written.");
  return verb;
}

int run_check(const CheckOptions& options) {
  const std::optional<LabRoom> room = room_of(options);
  if (!room) return kUnusable;
  const auto registered = registered_room(*room);
  if (!registered) return fail(registered.error().message);
  const std::string now = options.plan.made_at.empty() ? utc_now() : options.plan.made_at;
  if (now < registered->last_made_at)
    return fail("the time of this check, " + now + ", lies before the register's last record of " +
                registered->last_made_at + "; set the clock, or give --at");
  const InputList list = list_inputs(options.images, options.recursive);
  if (const std::string problem = output_problem(options.output, list); !problem.empty()) return fail(problem);
  if (!options.report.folder.empty())
    if (const std::string problem = report_folder_problem(options.report.folder); !problem.empty())
      return fail(problem);
  for (const std::string& path : list.repeated())
    if (!options.quiet) warn(path + ": named more than once, done once");
  return run_room(options, *room, *registered, list, now);
}

}  // namespace gradus
