#include "calibrate.h"

#include <scale/quantity_text.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <future>
#include <map>

#include "eyepiece_room.h"
#include "eyepiece_table.h"
#include "image_options.h"
#include "inputs.h"
#include "jobs.h"
#include "messages.h"
#include "progress.h"
#include "report_options.h"
#include "results_csv.h"
#include "results_json.h"
#include "run_report.h"
#include "setups_table.h"
#include "table.h"

namespace gradus {
namespace {

void add_scale_options(CLI::App& verb, CalibrateOptions& options) {
  verb.add_option_function<std::string>(
          "--division",
          [&options](const std::string& text) {
            options.how.reference.division = value_or_usage_error(scale::parse_length(text), "--division");
          },
          "Nominal length of one division of the scale, with its unit: 10um, 0.01mm")
      ->type_name("LENGTH");
  verb.add_option_function<std::string>(
          "--division-uncertainty",
          [&options](const std::string& text) {
            options.how.reference.uncertainty = scale::CertifiedUncertainty{
                {}, value_or_usage_error(scale::parse_relative_uncertainty(text), "--division-uncertainty")};
          },
          "Expanded uncertainty (k = 2) of the scale's lengths: \"0.1 %\", or 0.15um/1mm, of a length")
      ->type_name("SHARE");
  verb.add_option_function<std::string>(
          "--expect",
          [&options](const std::string& text) {
            options.how.expected = value_or_usage_error(scale::parse_factor(text), "--expect");
          },
          "Nominal factor; warn when the one found is off: 0.69um/px")
      ->type_name("LENGTH/px");
}

void add_reticle_options(CLI::App& verb, CalibrateOptions& options) {
  verb.add_option_function<int>(
          "--reticle", [&options](int divisions) { options.reticle_divisions = divisions; },
          "Pictures through the eyepiece, with the micrometer and a reticle of so many divisions: give micrometres per "
          "reticle division")
      ->type_name("N")
      ->check(CLI::Range(2, 10000).description(""));
  verb.add_option("--divisions", options.how.reference.divisions,
                  "With --reticle: how many divisions the micrometer has, to tell which scale it is")
      ->type_name("N")
      ->check(CLI::Range(2, 100000).description(""));
  const std::map<std::string, scale::ReticleIs> words = {{"finer", scale::ReticleIs::finer},
                                                         {"coarser", scale::ReticleIs::coarser},
                                                         {"upper", scale::ReticleIs::upper},
                                                         {"lower", scale::ReticleIs::lower}};
  verb.add_option_function<std::string>(
          "--reticle-is", [&options, words](const std::string& word) { options.reticle_is = words.at(word); },
          "Which scale is the reticle, where counting cannot tell: finer, coarser, upper or lower in the picture")
      ->type_name("WORD")
      ->check(CLI::IsMember({"finer", "coarser", "upper", "lower"}).description(""));
}

std::string reticle_misfit(const CalibrateOptions& options) {
  if (options.reticle_divisions == 0) {
    if (options.how.reference.divisions > 0) return "--divisions goes with --reticle N";
    return options.reticle_is == scale::ReticleIs::unknown ? "" : "--reticle-is goes with --reticle N";
  }
  if (!options.lab.file.empty() && options.lab.setup.empty())
    return "with --lab and --reticle say which set-up it is: --setup NAME";
  return options.how.expected ? "--expect is of a camera's pixels; leave it out with --reticle" : "";
}

// What options say together; empty when they fit.
std::string misfit(const CalibrateOptions& options) {
  const LabOptions& lab = options.lab;
  if (std::string problem = reticle_misfit(options); !problem.empty()) return problem;
  if (std::string problem = report_misfit(options.report); !problem.empty()) return problem;
  if (!lab.plan.made_at.empty() && !scale::is_utc_time(lab.plan.made_at))
    return "--at: '" + lab.plan.made_at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z";
  if (lab.file.empty()) {
    if (lab.record || !lab.setup.empty() || !lab.shots.empty() || lab.budget || lab.monte_carlo_trials > 0)
      return "--setup, --centre, --numbers-run, --budget, --monte-carlo and --record need a --lab FILE";
    if (!lab.plan.made_at.empty() && options.report.folder.empty()) return "--at needs a --lab FILE or a --report DIR";
    return options.how.reference.division.value > 0.0 ? "" : "--division or --lab is required";
  }
  const scale::ReferenceScale& reference = options.how.reference;
  if (reference.division.value > 0.0 || reference.divisions > 0 || reference.uncertainty || options.how.expected)
    return "--division, --divisions, --division-uncertainty and --expect are in the lab file; leave them out with "
           "--lab";
  return record_misfit(lab.record, lab.plan);
}

void add_output_options(CLI::App& verb, CalibrateOptions& options) {
  verb.add_option("--json", options.output.json, "Write the results as JSON; - is standard output")->type_name("FILE");
  verb.add_option("--csv", options.output.csv, "Write one row an image as CSV; - is standard output")
      ->type_name("FILE");
  verb.add_option("--pictures", options.output.pictures,
                  "Write a picture an image into this folder: what was found, residuals")
      ->type_name("DIR");
  add_report_options(verb, options.report, "Write a page a set-up (or image) and an overview into this folder");
  verb.add_option("--jobs", options.jobs, "Threads in all (default: as many as the machine has)")
      ->type_name("N")
      ->check(CLI::Range(1, kMostJobs).description(""));
  verb.add_flag("--quiet", options.quiet, "No table, no progress bar, no warnings; errors only");
}

// Errors and warnings of one image, as soon as it is done and in the order of the inputs.
void tell(const Outcome& outcome, bool quiet) {
  if (outcome.unreadable())
    complain(outcome.reason.message);
  else if (outcome.reason.code == "internal-error")
    complain(outcome.image + ": " + outcome.reason.message);
  if (!outcome.picture_problem.empty()) complain(outcome.picture_problem);
  if (quiet) return;
  for (const scale::Warning& warning : outcome.warnings)
    // Said once beneath the table, as it is true of every image.
    if (warning.code != "budget-incomplete") warn(outcome.image + ": " + warning.message);
}

// How the images of each set-up are looked at; one entry without a lab file.
std::vector<Examination> examinations(const CalibrateOptions& options, const std::optional<LabRoom>& room) {
  Examination general = options.how;
  if (options.reticle_divisions > 0)
    general.reticle = scale::ReticleInView{options.reticle_divisions, options.reticle_is};
  general.keep_shot = !options.report.folder.empty();
  general.hash_files = options.lab.record || general.keep_shot;
  if (!room) return {general};
  std::vector<Examination> list;
  for (std::size_t i = 0; i < room->lab.setups.size(); ++i)
    list.push_back(examination_of(room->lab, i, options.lab.shots, general));
  return list;
}

std::vector<Outcome> examine_all(const std::vector<Input>& inputs, const CalibrateOptions& options,
                                 const std::vector<Examination>& how) {
  std::vector<Outcome> outcomes(inputs.size());
  Progress progress(inputs.size(), !options.quiet);
  run_in_order(
      inputs.size(), options.jobs > 0 ? options.jobs : hardware_jobs(),
      [&](std::size_t i) {
        outcomes[i] = examine(inputs[i], how[inputs[i].setup.value_or(0)], options.output.pictures);
      },
      [&](std::size_t i) {
        progress.make_way();
        // A copy, made by a thread that has freed nothing and so takes none of the blocks of every picture: what stays
        // lies side by side then, not as islands among them, which would leave holes that grow with their number.
        outcomes[i] = std::async(std::launch::async, [&outcome = outcomes[i]] { return Outcome(outcome); }).get();
        tell(outcomes[i], options.quiet);
        progress.advance();
      });
  return outcomes;
}

// What is only known when the shots of a set-up are seen together.
void tell(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups, bool whole_room) {
  for (const Outcome& outcome : outcomes)
    for (const scale::Warning& warning : outcome.warnings)
      if (warning.code == "looks-like") warn(outcome.image + ": " + warning.message);
  for (const SetupOutcome& setup : setups) {
    if (setup.images == 0 && whole_room) warn(setup.name + ": there are no shots of this set-up");
    for (const scale::Warning& flag : setup.flags) warn(setup.name + ": " + flag.message);
    for (const scale::Warning& warning : setup.warnings) warn(setup.name + ": " + warning.message);
  }
}

// Combines the shots of every set-up and, when asked, records them. False when the register could not be written.
bool conclude(const LabRoom& room, const LabOptions& lab, const RecordPlan& plan, std::vector<Outcome>& outcomes,
              const std::vector<std::optional<RegisteredFactor>>& before, std::vector<SetupOutcome>& setups,
              bool quiet) {
  const auto today = scale::parse_date(std::string_view(plan.made_at).substr(0, 10));
  setups = combine_setups(room.lab, outcomes, before, {today.value(), lab.monte_carlo_trials});
  if (!quiet) tell(outcomes, setups, lab.setup.empty());
  if (!lab.record) return true;
  std::vector<std::string> remarks, problems;
  const bool good = record_setups(room, setups, outcomes, plan, remarks, problems);
  for (const std::string& line : remarks) complain(line);
  for (const std::string& problem : problems) complain(problem);
  return good;
}

std::string tables(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups,
                   const std::vector<ReticleOutcome>& verdicts, const LabOptions& lab, bool reticle) {
  if (reticle) return eyepiece_table(outcomes) + eyepiece_verdicts(verdicts, lab.budget);
  std::string text = table_of(outcomes);
  if (!setups.empty()) text += "\n" + setups_table(setups);
  if (lab.budget) text += budget_tables(setups);
  return text;
}

// False when an output could not be written; what can be written still is.
bool write_outputs(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups,
                   const std::vector<ReticleOutcome>& verdicts, const CalibrateOptions& options) {
  const bool reticle = options.reticle_divisions > 0;
  std::vector<std::string> problems;
  if (!options.output.json.empty())
    problems.push_back(deliver(options.output.json,
                               calibration_json(outcomes, setups, verdicts, !reticle && !options.lab.file.empty())));
  if (!options.output.csv.empty()) problems.push_back(deliver(options.output.csv, calibration_csv(outcomes, setups)));
  const bool table = !options.quiet && options.output.json != "-" && options.output.csv != "-";
  if (table) problems.push_back(deliver("-", tables(outcomes, setups, verdicts, options.lab, reticle)));
  problems.erase(std::remove(problems.begin(), problems.end(), ""), problems.end());
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

// A set-up is in order when nothing was flagged, or what was is accepted and recorded.
bool in_order(const SetupOutcome& setup) {
  return setup.status() == "no-shots" || (setup.calibration && (setup.flags.empty() || setup.record));
}

int exit_code(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups, bool written) {
  const auto unreadable = [](const Outcome& outcome) { return outcome.unreadable(); };
  const auto calibrated = [](const Outcome& outcome) { return outcome.calibration.has_value(); };
  const bool pictures =
      std::all_of(outcomes.begin(), outcomes.end(), [](const Outcome& o) { return o.picture_problem.empty(); });
  if (!written || !pictures || std::all_of(outcomes.begin(), outcomes.end(), unreadable)) return 2;
  const bool good =
      std::all_of(outcomes.begin(), outcomes.end(), calibrated) && std::all_of(setups.begin(), setups.end(), in_order);
  return good ? 0 : 1;
}

}  // namespace

CLI::App* setup_calibrate(CLI::App& app, CalibrateOptions& options) {
  CLI::App* verb = app.add_subcommand("calibrate", "Find the ruling in each image and give its micrometres per pixel");
  add_image_options(*verb, {options.images, options.recursive, options.how.region, options.how.channel});
  add_scale_options(*verb, options);
  add_reticle_options(*verb, options);
  add_lab_options(*verb, options.lab);
  add_output_options(*verb, options);
  verb->final_callback([&options] {
    if (const std::string problem = misfit(options); !problem.empty()) throw CLI::ValidationError(problem);
  });
  verb->footer(
      "Examples: gradus calibrate shots/ --division 10um --json factors.json --pictures seen/\n"
      "          gradus calibrate shots/ --recursive --lab lab.toml --budget --record --operator \"A. Keeper\"\n"
      "Exit: 0 all calibrated; 1 done, but an image was refused or unreadable, or a set-up was flagged; 2 bad\n"
      "usage, no image that could be read, or an output that could not be written.");
  return verb;
}

namespace {

// The lab file, when one was named; `failed` when it cannot be used.
std::optional<LabRoom> room_of(const LabOptions& lab, bool& failed) {
  if (lab.file.empty()) return std::nullopt;
  std::vector<std::string> problems;
  std::optional<LabRoom> room = read_lab_room(lab.file, problems);
  const auto named = [&](const scale::LabSetup& setup) { return setup.name == lab.setup; };
  if (room && !lab.setup.empty() && std::none_of(room->lab.setups.begin(), room->lab.setups.end(), named))
    problems.push_back(no_such_setup(*room, lab.setup));
  for (const std::string& problem : problems) complain(problem);
  failed = !problems.empty();
  return room;
}

// False when a page could not be written; what can be written still is.
bool write_pages(const std::optional<LabRoom>& room, const std::vector<SetupOutcome>& setups,
                 const std::vector<ReticleOutcome>& verdicts, const std::vector<Outcome>& outcomes,
                 const CalibrateOptions& options, const RecordPlan& plan) {
  if (options.report.folder.empty()) return true;
  ReportPlan pages = options.report;
  pages.printed_at = plan.made_at;
  const RunReport run{room, pages, plan.accept, {options.how.reference, options.reticle_divisions}};
  std::vector<ReticleOutcome> reticles = verdicts;
  if (!room && options.reticle_divisions > 0)
    for (const Outcome& outcome : outcomes) reticles.push_back(reticle_outcome_of(outcome));
  const std::vector<std::string> problems =
      options.reticle_divisions > 0 ? report_reticles(reticles, run) : report_run(setups, outcomes, run);
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

}  // namespace

int run_calibrate(const CalibrateOptions& options) {
  bool failed = false;
  const std::optional<LabRoom> room = room_of(options.lab, failed);
  if (failed) return 2;
  const InputList list = list_inputs(options.images, options.recursive);
  std::vector<Input> inputs = list.all();
  std::string problem = output_problem(options.output, list);
  if (problem.empty() && !options.report.folder.empty()) problem = report_folder_problem(options.report.folder);
  if (!problem.empty()) {
    complain(problem);
    return 2;
  }
  std::vector<std::optional<RegisteredFactor>> before;
  if (room) {
    before = registered_factors(*room, problem);
    if (problem.empty())
      problem = eyepiece_problem(*room, options.lab, options.reticle_divisions, inputs.size(),
                                 options.lab.record || !options.report.folder.empty());
    // Before any image is looked at: nobody should wait for a room to be told so.
    if (!problem.empty()) {
      complain(problem);
      return 2;
    }
    for (Input& input : inputs) assign_setup(input, room->lab, options.lab.setup);
  }
  for (const std::string& path : list.repeated())
    if (!options.quiet) warn(path + ": named more than once, done once");
  std::vector<Outcome> outcomes = examine_all(inputs, options, examinations(options, room));
  std::vector<SetupOutcome> setups;
  RecordPlan plan = options.lab.plan;
  if (plan.made_at.empty()) plan.made_at = utc_now();
  std::vector<ReticleOutcome> verdicts;
  bool recorded = true;
  if (room && options.reticle_divisions > 0)
    verdicts = conclude_eyepiece(*room, options.lab, plan, outcomes, before, options.quiet, recorded);
  else if (room)
    recorded = conclude(*room, options.lab, plan, outcomes, before, setups, options.quiet);
  const bool reported = write_pages(room, setups, verdicts, outcomes, options, plan);
  const bool written = write_outputs(outcomes, setups, verdicts, options) && reported;
  const bool flagged = std::any_of(verdicts.begin(), verdicts.end(), [](const ReticleOutcome& verdict) {
    return !verdict.flags.empty() && !verdict.record;
  });
  return std::max(flagged ? 1 : 0, exit_code(outcomes, setups, written && recorded));
}

}  // namespace gradus
