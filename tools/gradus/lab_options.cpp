#include "lab_options.h"

#include <map>

namespace gradus {
namespace {

// "GLOB=WORD" of --centre and --numbers-run.
std::pair<std::string, std::string> parse_shots(const std::string& text, const std::string& option,
                                                const std::string& example) {
  const std::size_t equals = text.rfind('=');
  if (equals == std::string::npos || equals == 0 || equals + 1 == text.size())
    throw CLI::ValidationError(option, "'" + text + "' has no '='; write it like '" + example + "'");
  return {text.substr(0, equals), text.substr(equals + 1)};
}

scale::LabShots parse_centre(const std::string& text) {
  const auto [glob, length] = parse_shots(text, "--centre", "20x/a.*=400um");
  return {glob, value_or_usage_error(scale::parse_deviation(length), "--centre"), scale::NumbersRun::unknown};
}

scale::LabShots parse_numbers_run(const std::string& text) {
  const std::map<std::string, scale::NumbersRun> ways = {{"right", scale::NumbersRun::right},
                                                         {"left", scale::NumbersRun::left},
                                                         {"up", scale::NumbersRun::up},
                                                         {"down", scale::NumbersRun::down}};
  const auto [glob, way] = parse_shots(text, "--numbers-run", "4x/*=right");
  const auto found = ways.find(way);
  if (found == ways.end())
    throw CLI::ValidationError("--numbers-run", "'" + way + "' is none of right, left, up, down");
  return {glob, std::nullopt, found->second};
}

// An option that may be given again and again, each time with one hint on some shots.
void add_shots_option(CLI::App& verb, const std::string& name, std::vector<scale::LabShots>& shots,
                      scale::LabShots (*parse)(const std::string&), const std::string& help, const std::string& form) {
  verb.add_option_function<std::vector<std::string>>(
          name,
          [&shots, parse](const std::vector<std::string>& texts) {
            for (const std::string& text : texts) shots.push_back(parse(text));
          },
          help)
      ->type_name(form)
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
}

}  // namespace

void add_lab_options(CLI::App& verb, LabOptions& lab) {
  verb.add_option("--lab", lab.file, "The room's lab file: calibrate every set-up at once")->type_name("FILE");
  verb.add_option("--setup", lab.setup, "All images are shots of this set-up, whatever their names")->type_name("NAME");
  add_shots_option(verb, "--centre", lab.shots, parse_centre,
                   "Which place of the scale lies in the middle of these images, for certified positions: "
                   "'20x/a.*=400um'",
                   "GLOB=LENGTH");
  add_shots_option(verb, "--numbers-run", lab.shots, parse_numbers_run,
                   "Which way the scale's numbers grow in these images: right, left, up or down: '4x/*=right'",
                   "GLOB=WAY");
  verb.add_flag("--budget", lab.budget, "Print each set-up's uncertainty budget");
  verb.add_option("--monte-carlo", lab.monte_carlo_trials, "Check the budget by so many trials (JCGM 101)")
      ->type_name("N")
      ->check(CLI::Range(std::size_t{1000}, std::size_t{100000000}).description(""));
  add_record_options(verb, lab.record, lab.plan);
}

CLI::Validator not_blank() {
  return {[](const std::string& text) {
            return text.find_first_not_of(" \t") == std::string::npos
                       ? std::string("is blank; the register keeps who and why")
                       : std::string();
          },
          ""};
}

std::string record_misfit(bool record, const RecordPlan& plan) {
  if (!record && (!plan.made_by.empty() || !plan.accept.empty()))
    return "--operator and --accept say something to the register; add --record";
  if (record && plan.made_by.empty()) return "--record needs --operator NAME, who answers for the calibration";
  if (!plan.made_at.empty() && !scale::is_utc_time(plan.made_at))
    return "--at: '" + plan.made_at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z";
  return "";
}

void add_record_options(CLI::App& verb, bool& record, RecordPlan& plan) {
  verb.add_flag("--record", record, "Write the set-ups into the register beside the lab file");
  verb.add_option("--operator", plan.made_by, "Who calibrates, for the register")
      ->type_name("NAME")
      ->check(not_blank());
  verb.add_option("--accept", plan.accept, "Record flagged set-ups all the same, for this reason")
      ->type_name("REASON")
      ->check(not_blank());
  verb.add_option("--at", plan.made_at, "Time of the record in UTC, like 2026-02-28T09:30:00Z (default: now)")
      ->type_name("TIME");
}

}  // namespace gradus
