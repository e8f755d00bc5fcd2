#include "register_history.h"

#include <CLI/CLI.hpp>
#include <filesystem>

#include "lab_room.h"
#include "messages.h"
#include "outputs.h"

namespace gradus {
namespace {

constexpr int kDone = 0, kUnusable = 2;

std::optional<std::int64_t> current_calibration(const std::vector<scale::ListedRecord>& records) {
  std::optional<std::int64_t> current;
  for (const scale::ListedRecord& listed : records)
    if (listed.record.draft.kind == "calibration" && !listed.withdrawn_by && !listed.superseded_by)
      current = listed.record.number;
  return current;
}

int fail(const std::string& problem) {
  complain(problem);
  return kUnusable;
}

}  // namespace

void add_history_options(CLI::App& verb, HistoryOptions& options) {
  verb.add_option("--lab", options.lab, "The room's lab file, for check_base (default: lab.toml beside the register)")
      ->type_name("FILE");
  verb.add_option("--json", options.json, "Write shots, charts and change as JSON; - is standard output")
      ->type_name("FILE");
  verb.add_option("--svg", options.svg, "Write the control charts as a picture; - is standard output")
      ->type_name("FILE");
  verb.add_option("--base", options.charts.base,
                  "Limits from so many first shots, the agreed base period (default: check_base of the lab file, else "
                  "from the uncertainty budget)")
      ->type_name("N")
      ->check(CLI::Range(std::size_t{3}, std::size_t{100000}).description(""));
  verb.add_option("--lambda", options.charts.settings.lambda, "Weight of the newest shot in the EWMA (0.2)")
      ->type_name("SHARE")
      ->check(CLI::Range(0.01, 1.0).description(""));
  verb.add_option("--width", options.charts.settings.ewma_limit, "L, the half width of the EWMA's limits (2.962)")
      ->type_name("L")
      ->check(CLI::Range(0.5, 10.0).description(""));
}

std::optional<ChartChoice> charts_of(const HistoryOptions& options, const std::string& setup,
                                     const std::string& register_file) {
  namespace fs = std::filesystem;
  ChartChoice charts = options.charts;
  const std::string beside = (fs::path(register_file).parent_path() / "lab.toml").string();
  std::error_code failure;
  if (options.lab.empty() && (charts.base > 0 || !fs::exists(beside, failure))) return charts;
  std::vector<std::string> problems;
  const std::optional<LabRoom> room = read_lab_room(options.lab.empty() ? beside : options.lab, problems);
  for (const std::string& problem : problems) complain(problem);
  if (!room) return std::nullopt;
  const ChartChoice agreed = agreed_charts(room->lab, setup);
  if (charts.base == 0) charts.base = agreed.base, charts.until_then = agreed.until_then;
  return charts;
}

int write_history(const std::vector<scale::ListedRecord>& records, const std::string& setup, const std::string& text,
                  const HistoryOptions& options, const ChartChoice& charts) {
  if (const std::string problem = output_problem({options.json, options.svg, ""}, {}); !problem.empty())
    return fail(problem);
  const auto current = current_calibration(records);
  if (!current && options.json.empty() && options.svg.empty()) return deliver("-", text).empty() ? kDone : kUnusable;
  if (!current) return fail("the set-up '" + setup + "' has no current calibration; calibrate it with --record");
  const SetupHistory history = history_of(setup, *current, recorded_checks(records, *current), charts);
  if (!options.svg.empty() && !history.chart) return fail(setup + ": there is no chart, " + history.problem);
  std::vector<std::pair<std::string, std::string>> outputs;
  if (!options.json.empty()) outputs.emplace_back(options.json, history_json(history));
  if (!options.svg.empty()) outputs.emplace_back(options.svg, history_svg(history));
  if (options.json != "-" && options.svg != "-") outputs.emplace_back("-", text + "\n" + history_text(history));
  for (const auto& [target, content] : outputs)
    if (const std::string problem = deliver(target, content); !problem.empty()) return fail(problem);
  return kDone;
}

}  // namespace gradus
