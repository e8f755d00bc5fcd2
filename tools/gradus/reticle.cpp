#include "reticle.h"

#include <scale/quantity_text.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <set>

#include "messages.h"
#include "outputs.h"
#include "report_options.h"
#include "reticle_verdict.h"
#include "run_report.h"

namespace gradus {
namespace {

constexpr const char* kDefaultLab = "lab.toml";

// What was parsed, with the option named in the message.
double positive_divisions(const std::string& text, const std::string& option, bool may_be_zero) {
  const auto value = parse_divisions(text);
  if (!value) throw CLI::ValidationError(option, value.error());
  if (*value < 0.0 || *value > 10.0 || (*value == 0.0 && !may_be_zero))
    throw CLI::ValidationError(option, "'" + text + "' must be a part of a division, like 0.1");
  return *value;
}

void add_scale_options(CLI::App& verb, ReticleOptions& options) {
  verb.add_option_function<std::string>(
          "--division",
          [&options](const std::string& text) {
            options.reference.division = value_or_usage_error(scale::parse_length(text), "--division");
          },
          "Nominal length of one division of the micrometer, with its unit: 10um, 0.01mm")
      ->type_name("LENGTH");
  verb.add_option_function<std::string>(
          "--division-uncertainty",
          [&options](const std::string& text) {
            options.reference.uncertainty = scale::CertifiedUncertainty{
                {}, value_or_usage_error(scale::parse_relative_uncertainty(text), "--division-uncertainty")};
          },
          "Expanded uncertainty (k = 2) of the micrometer's lengths: \"0.1 %\", or 0.15um/1mm, of a length")
      ->type_name("SHARE");
  verb.add_option("--divisions", options.reference.divisions, "How many divisions the micrometer has")
      ->type_name("N")
      ->check(CLI::Range(2, 100000).description(""));
}

void add_reading_options(CLI::App& verb, ReticleOptions& options) {
  verb.add_option("--reticle", options.conditions.reticle_divisions, "How many divisions the reticle has")
      ->type_name("N")
      ->check(CLI::Range(2, 10000).description(""));
  verb.add_option_function<std::string>(
          "--line-width",
          [&options](const std::string& text) {
            options.conditions.line_width = value_or_usage_error(scale::parse_length(text), "--line-width");
          },
          "Width of the micrometer's lines: they look like one within half of it, or within a twentieth of the coarser "
          "division where that is more")
      ->type_name("LENGTH");
  verb.add_option_function<std::string>(
          "--coincidence",
          [&options](const std::string& text) {
            options.conditions.coincidence = value_or_usage_error(scale::parse_length(text), "--coincidence");
          },
          "Limits (+-) within which lines look like one (default: the larger of half a line and a twentieth of the "
          "coarser division)")
      ->type_name("LENGTH");
  verb.add_option_function<std::string>(
          "--estimate",
          [&options](const std::string& text) {
            options.conditions.estimate = positive_divisions(text, "--estimate", false);
          },
          "Limits (+-) of an estimated fraction, in divisions of its scale (0.1)")
      ->type_name("DIVISIONS");
  verb.add_option_function<std::string>(
          "--parallax",
          [&options](const std::string& text) { options.parallax = positive_divisions(text, "--parallax", true); },
          "Limits (+-) by which a moving eye shifts a reading, in reticle divisions (0)")
      ->type_name("DIVISIONS");
}

void add_output_options(CLI::App& verb, ReticleOptions& options) {
  verb.add_option("--lab", options.lab, "The room's lab file; with --setup or --table lab.toml when left out")
      ->type_name("FILE");
  verb.add_option("--setup", options.setup, "The set-up of kind reticle that was read")->type_name("NAME");
  add_record_options(verb, options.record, options.plan);
  verb.add_option("--json", options.json, "Write the results as JSON; - is standard output")->type_name("FILE");
  add_report_options(verb, options.report, "Write the sheet of what was read, and an overview, into this folder",
                     false);
  verb.add_flag("--table", options.table, "Print the card for the bench: divisions in micrometres, by the register");
  verb.add_option("--microscope", options.card.microscope, "Only set-ups of this microscope, with --table")
      ->type_name("NAME");
  verb.add_option("--page", options.card.page, "The card as a page to print, A5, with --table")->type_name("FILE");
  verb.add_flag("--quiet", options.quiet, "No table, no warnings; errors only");
}

bool with_lab(const ReticleOptions& options) { return !options.lab.empty() || !options.setup.empty() || options.table; }

// The first of the verb's own options and readings that was given and is not among `but`; empty: none.
std::string given(const CLI::App& verb, const std::set<std::string>& but) {
  for (const CLI::Option* option : verb.get_options())
    if (option->count() > 0 && !but.contains(option->get_name())) return option->get_name();
  return "";
}

std::string table_misfit(const CLI::App& verb, const ReticleOptions& options) {
  if (!options.table)
    return options.card.page.empty() && options.card.microscope.empty() ? ""
                                                                        : "--page and --microscope belong to --table";
  const std::string other = given(verb, {"--table", "--lab", "--microscope", "--page", "--at", "--quiet"});
  if (!other.empty())
    return "--table prints what the register holds; leave " + other +
           " out, it goes with --lab, --microscope, --page, --at and --quiet alone";
  return record_misfit(false, options.plan);
}

// What options say together; empty when they fit.
std::string misfit(const CLI::App& verb, const ReticleOptions& options) {
  if (const std::string problem = table_misfit(verb, options); !problem.empty()) return problem;
  if (options.table) return "";
  if (std::string problem = report_misfit(options.report); !problem.empty()) return problem;
  const bool stated =
      options.reference.division.value > 0.0 || options.reference.uncertainty || options.reference.divisions > 0;
  if (with_lab(options) && stated)
    return "--division, --division-uncertainty and --divisions are in the lab file; leave them out with it";
  if (options.arguments.empty() == options.file.empty())
    return options.file.empty() ? "there is no reading; write them like 0=0 33=34 97=100, or name a CSV with --readings"
                                : "give readings, or --readings FILE, not both";
  if (!with_lab(options) && !(options.reference.division.value > 0.0)) return "--division or --lab is required";
  if (!with_lab(options) && options.record) return "--record needs a --lab FILE and the --setup that was read";
  return record_misfit(options.record, options.plan);
}

// The sets to work on, or why there are none.
tl::expected<std::vector<ReadingSet>, std::string> sets_of(const ReticleOptions& options) {
  if (!options.file.empty()) return read_readings(options.file);
  auto readings = parse_readings(options.arguments);
  if (!readings) return tl::unexpected<std::string>(readings.error());
  return std::vector<ReadingSet>{{"", std::move(*readings)}};
}

// Gives every set its set-up; one line a problem.
std::vector<std::string> assign(std::vector<ReticleOutcome>& outcomes, const LabRoom& room, const std::string& named) {
  std::vector<std::string> problems;
  for (ReticleOutcome& outcome : outcomes) {
    if (outcome.set.setup.empty()) outcome.set.setup = named;
    const std::string& name = outcome.set.setup;
    const auto& setups = room.lab.setups;
    const auto found =
        std::find_if(setups.begin(), setups.end(), [&](const auto& setup) { return setup.name == name; });
    if (name.empty())
      problems.push_back("of which set-up are the readings? Name it with --setup, or in a column setup of the CSV");
    else if (found == setups.end())
      problems.push_back(no_such_setup(room, name));
    else if (!found->reticle)
      problems.push_back(room.path + ": the set-up '" + name +
                         "' is of a camera; write kind = \"reticle\" for one read by eye");
    else
      outcome.setup = static_cast<std::size_t>(found - setups.begin());
  }
  return problems;
}

// `setup` and `scale` null: without a lab file.
scale::ReadingConditions conditions_of(const scale::LabSetup* setup, const scale::LabScale* scale,
                                       const ReticleOptions& options) {
  scale::ReadingConditions conditions = options.conditions;
  conditions.parallax = options.parallax.value_or(setup != nullptr ? setup->parallax : 0.0);
  if (setup == nullptr) return conditions;
  if (conditions.reticle_divisions == 0) conditions.reticle_divisions = setup->reticle_divisions;
  if (!conditions.line_width) conditions.line_width = scale->line_width;
  return conditions;
}

void calibrate(ReticleOutcome& outcome, const ReticleOptions& options, const LabRoom* room) {
  const scale::LabSetup* setup = room != nullptr ? &room->lab.setups[*outcome.setup] : nullptr;
  const scale::LabScale* scale = room != nullptr ? &room->lab.scales[setup->scale] : nullptr;
  const scale::ReferenceScale& reference = scale != nullptr ? scale->reference : options.reference;
  outcome.division_um = reference.division.value;
  auto found = scale::calibrate_reticle(outcome.set.readings, reference, conditions_of(setup, scale, options),
                                        setup != nullptr ? std::optional(setup->conditions) : std::nullopt);
  if (found)
    outcome.calibration = std::move(*found);
  else
    outcome.reason = found.error();
}

bool deliver_results(const std::vector<ReticleOutcome>& outcomes, const ReticleOptions& options) {
  std::vector<std::string> problems;
  if (!options.json.empty()) problems.push_back(deliver(options.json, reticle_json(outcomes)));
  if (!options.quiet && options.json != "-") problems.push_back(deliver("-", reticle_table(outcomes)));
  problems.erase(std::remove(problems.begin(), problems.end(), ""), problems.end());
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

int fail(const std::vector<std::string>& problems) {
  for (const std::string& problem : problems) complain(problem);
  return 2;
}

// Readings with a lab file: what the room knows of the set-ups.
std::vector<std::string> furnish(std::vector<ReticleOutcome>& outcomes, const LabRoom& room, const std::string& named) {
  std::vector<std::string> problems = assign(outcomes, room, named);
  if (!problems.empty()) return problems;
  std::string problem;
  const auto before = registered_factors(room, problem);
  if (!problem.empty()) return {problem};
  for (ReticleOutcome& outcome : outcomes) outcome.before = before[*outcome.setup];
  return {};
}

// What the options ask for but cannot have, before anything is done.
std::string unwritable(const ReticleOptions& options) {
  std::string problem = output_problem({options.json, "", ""}, {});
  if (problem.empty() && !options.report.folder.empty()) problem = report_folder_problem(options.report.folder);
  return problem;
}

// False when a page could not be written; what can be written still is.
bool write_pages(const std::vector<ReticleOutcome>& outcomes, const ReticleOptions& options,
                 const std::optional<LabRoom>& room, const RecordPlan& plan) {
  if (options.report.folder.empty()) return true;
  ReportPlan pages = options.report;
  pages.printed_at = plan.made_at;
  const std::vector<std::string> problems =
      report_reticles(outcomes, {room, pages, plan.accept, {options.reference, options.conditions.reticle_divisions}});
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

int run_readings(const ReticleOptions& options, const std::optional<LabRoom>& room) {
  auto sets = sets_of(options);
  if (!sets) return fail({sets.error()});
  if (const std::string problem = unwritable(options); !problem.empty()) return fail({problem});
  std::vector<ReticleOutcome> outcomes;
  for (ReadingSet& set : *sets) outcomes.emplace_back().set = std::move(set);
  RecordPlan plan = options.plan;
  if (plan.made_at.empty()) plan.made_at = utc_now();
  if (room)
    if (const auto problems = furnish(outcomes, *room, options.setup); !problems.empty()) return fail(problems);
  if (!room)
    for (const ReticleOutcome& outcome : outcomes)
      if (!outcome.set.setup.empty()) return fail({"the CSV names set-ups; add --lab FILE"});
  for (ReticleOutcome& outcome : outcomes) {
    calibrate(outcome, options, room ? &*room : nullptr);
    if (room) judge_reticle(outcome, *room, scale::parse_date(std::string_view(plan.made_at).substr(0, 10)).value());
  }
  tell_reticles(outcomes, options.quiet);
  const bool recorded = !options.record || record_reticles(outcomes, *room, plan);
  const bool reported = write_pages(outcomes, options, room, plan);
  const bool written = deliver_results(outcomes, options) && reported;
  if (!written || !recorded) return 2;
  return std::all_of(outcomes.begin(), outcomes.end(),
                     [](const ReticleOutcome& outcome) {
                       return outcome.calibration && (outcome.flags.empty() || outcome.record);
                     })
             ? 0
             : 1;
}

}  // namespace

CLI::App* setup_reticle(CLI::App& app, ReticleOptions& options) {
  CLI::App* verb = app.add_subcommand("reticle", "Micrometres per reticle division, from readings by eye");
  verb->add_option("READINGS", options.arguments,
                   "Reticle line = micrometer line, in divisions, like 33=34; / begins a new series")
      ->type_name("");
  verb->add_option("--readings", options.file, "CSV of readings: reticle,micrometer and, if wanted, series,setup")
      ->type_name("FILE");
  add_scale_options(*verb, options);
  add_reading_options(*verb, options);
  add_output_options(*verb, options);
  CLI::App* size = setup_size(*verb, options.size);
  verb->require_subcommand(0, 1);
  verb->final_callback([&options, verb, size] {
    if (size->parsed() && !given(*verb, {}).empty())
      throw CLI::ValidationError(
          "readings and options stand behind size, which takes its own; leave them out before it");
    if (size->parsed()) return;
    if (const std::string problem = misfit(*verb, options); !problem.empty()) throw CLI::ValidationError(problem);
  });
  verb->footer(
      "Examples: gradus reticle --division 10um 0=0 33=34 97=100\n"
      "          gradus reticle --setup eyepiece-10x --record --operator \"A. Keeper\" 0=0 97=100 / 0=0 96.9=100\n"
      "          gradus reticle size 42.5 --setup eyepiece-10x\n"
      "          gradus reticle --table --page card.html\n"
      "Exit: 0 done; 1 readings were refused or a set-up was flagged; 2 bad usage, or a file that could not be used.");
  return verb;
}

int run_reticle(const CLI::App& verb, const ReticleOptions& options) {
  if (verb.got_subcommand("size")) return run_size(options.size);
  if (!with_lab(options)) return run_readings(options, std::nullopt);
  std::vector<std::string> problems;
  const std::optional<LabRoom> room = read_lab_room(options.lab.empty() ? kDefaultLab : options.lab, problems);
  if (!room) return fail(problems);
  return options.table ? run_card(*room, options.card, options.plan.made_at, options.quiet)
                       : run_readings(options, room);
}

}  // namespace gradus
