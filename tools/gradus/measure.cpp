#include "measure.h"

#include <CLI/CLI.hpp>
#include <algorithm>

#include "inputs.h"
#include "jobs.h"
#include "measure_csv.h"
#include "measure_image.h"
#include "measure_json.h"
#include "measure_options.h"
#include "measure_record.h"
#include "measure_report.h"
#include "measure_resume.h"
#include "measure_summary.h"
#include "measure_table.h"
#include "messages.h"
#include "progress.h"
#include "recording.h"

namespace gradus {
namespace {

constexpr int kUnusable = 2;

void tell(const SpecimenOutcome& outcome, bool quiet) {
  if (outcome.unreadable())
    complain(outcome.reason->message);
  else if (outcome.reason && outcome.reason->code == "internal-error")
    complain(outcome.image + ": " + outcome.reason->message);
  if (!outcome.picture_problem.empty()) complain(outcome.picture_problem);
  if (quiet) return;
  for (const scale::Warning& warning : outcome.warnings) warn(outcome.image + ": " + warning.message);
}

// The factors of this run, and with a lab file which image has which; false when there are none.
struct Sources {
  std::optional<LabRoom> room;
  std::vector<FactorInUse> factors;
};

bool complain_all(const std::vector<std::string>& problems) {
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

bool find_factors(const MeasureOptions& options, const std::string& today, Sources& sources) {
  if (options.factor.um_per_pixel > 0.0) {
    sources.factors = {factor_of_command_line(options.factor)};
    return true;
  }
  std::vector<std::string> problems;
  const std::string path = options.factor.lab.empty() ? "lab.toml" : options.factor.lab;
  sources.room = read_lab_room(path, problems);
  if (!sources.room) return complain_all(problems);
  const scale::Lab& lab = sources.room->lab;
  const std::string& setup = options.factor.setup;
  const auto named = [&](const scale::LabSetup& one) { return one.name == setup; };
  if (!setup.empty() && std::none_of(lab.setups.begin(), lab.setups.end(), named))
    return complain_all({no_such_setup(*sources.room, setup)});
  std::string problem;
  sources.factors = factors_of_register(*sources.room, options.factor, today, problem);
  if (!problem.empty()) return complain_all({problem});
  return true;
}

// What is to be measured, each image with its set-up.
class Images {
 public:
  Images(const InputList& inputs, const Sources& sources, const MeasureOptions& options)
      : inputs_(inputs), room_(sources.room), setup_(options.factor.setup) {}
  std::size_t size() const { return inputs_.size(); }
  Input operator[](std::size_t place) const {
    Input input = inputs_[place];
    if (room_) assign_setup(input, room_->lab, setup_);
    return input;
  }

 private:
  const InputList& inputs_;
  const std::optional<LabRoom>& room_;
  const std::string& setup_;
};

// Everything that grows while the images go by.
struct Run {
  explicit Run(const ReportPlan& pages) : report(pages) {}
  ImageTable table;
  Summariser summariser;
  MeasuredImages images;
  MeasurementReport report;
  std::vector<std::string> problems;  // of outputs
  bool pictures_good = true;
};

void measure_all(const Images& inputs, std::size_t first, const MeasureOptions& options,
                 const std::vector<FactorInUse>& factors, RowFile* rows, MeasurementDocument& document, Run& run) {
  const int jobs = options.jobs > 0 ? options.jobs : hardware_jobs();
  std::vector<SpecimenOutcome> ring(under_way(jobs));  // a place an image would grow with their number
  Progress progress(inputs.size() - first, !options.quiet);
  run_in_order(
      inputs.size() - first, jobs,
      [&](std::size_t i) {
        const bool for_page = !options.report.folder.empty() && i < MeasurementReport::kPictures;
        ring[i % ring.size()] = measure_image(inputs[first + i], options, factors, for_page);
      },
      [&](std::size_t i) {
        SpecimenOutcome outcome = std::move(ring[i % ring.size()]);
        progress.make_way();
        tell(outcome, options.quiet);
        progress.advance();
        if (rows != nullptr) rows->append(measure_csv_rows(outcome));
        document.add(outcome, factors[outcome.factor]);
        run.table.add(outcome);
        run.summariser.add(outcome);
        if (options.record) run.images.add(outcome);
        if (!options.report.folder.empty()) run.report.add(outcome);
        run.pictures_good = run.pictures_good && outcome.picture_problem.empty();
      });
}

// Whether what stands in a broken run's CSV of its last image is what these options give. Writes nothing.
std::string other_run(const ResumePoint& point, const Images& inputs, const MeasureOptions& options,
                      const std::vector<FactorInUse>& factors) {
  if (point.rows.empty()) return "";
  MeasureOptions probe = options;
  probe.output.pictures.clear();
  probe.record = false;
  const std::string now = measure_csv_rows(measure_image(inputs[point.first], probe, factors));
  if (now.starts_with(point.rows)) return "";
  return options.output.csv + ": was measured with another factor, other options or another picture (" +
         inputs[point.first].path + " gives other rows now); it cannot be continued, write to another file";
}

int exit_code(const Run& run) {
  const bool nothing = run.table.measured() + run.table.refused() == run.table.unreadable();
  if (!run.problems.empty() || !run.pictures_good || nothing) return kUnusable;
  return run.table.refused() > 0 ? 1 : 0;
}

bool edges_stated(const MeasureOptions& options, const std::vector<FactorInUse>& factors,
                  const std::vector<Summary>& summaries) {
  if (options.edge_uncertainty || options.aperture) return true;
  return std::all_of(summaries.begin(), summaries.end(),
                     [&](const Summary& s) { return factors[s.factor].aperture.has_value(); });
}

void conclude(const MeasureOptions& options, const Sources& sources, const std::string& made_at,
              MeasurementDocument& document, bool resumed, Run& run) {
  const std::vector<Summary> summaries = run.summariser.summaries(sources.factors, options.distribution);
  MeasurementRecords records;
  if (options.record)
    records = record_measurements(*sources.room, sources.factors, run.images, summaries, options.made_by, made_at);
  run.problems.push_back(records.problem);
  run.problems.push_back(document.finish(summaries, records.numbers));
  const bool edges = edges_stated(options, sources.factors, summaries);
  if (!options.report.folder.empty()) {
    const scale::Lab* lab = sources.room ? &sources.room->lab : nullptr;
    for (std::string& problem : run.report.write(summaries, sources.factors, options, lab, edges, records.numbers))
      run.problems.push_back(std::move(problem));
  }
  if (!options.quiet && options.output.json != "-" && options.output.csv != "-") {
    const bool factor_stated = std::all_of(summaries.begin(), summaries.end(),
                                           [&](const Summary& s) { return sources.factors[s.factor].stated; });
    std::string text = run.table.text();
    if (resumed) text += "The table and what follows are of the images measured now; the CSV has all.\n";
    text += overdue_words(summaries, sources.factors);
    text += summary_table(summaries, options.distribution, edges, factor_stated);
    for (const std::int64_t number : records.numbers) text += "Recorded as record " + std::to_string(number) + ".\n";
    run.problems.push_back(deliver("-", text));
  }
  run.problems.erase(std::remove(run.problems.begin(), run.problems.end(), ""), run.problems.end());
}

}  // namespace

CLI::App* setup_measure(CLI::App& app, MeasureOptions& options) {
  CLI::App* verb = app.add_subcommand("measure", "Measure widths and sizes of the bodies in sample images");
  add_measure_options(*verb, options);
  verb->final_callback([&options] {
    if (const std::string problem = measure_misfit(options); !problem.empty()) throw CLI::ValidationError(problem);
  });
  verb->footer(
      "Examples: gradus measure fibres/ --um-per-pixel 0.345 --csv widths.csv\n"
      "          gradus measure fibres/ --lab lab.toml --setup wool-20x --pictures seen/ --record --operator \"A. "
      "Keeper\"\n"
      "Exit: 0 all measured; 1 done, but an image was refused or had no bodies; 2 bad usage, no image that\n"
      "could be read, or an output that could not be written.");
  return verb;
}

int run_measure(const MeasureOptions& options) {
  const std::string made_at = options.made_at.empty() ? utc_now() : options.made_at;
  const InputList list = list_inputs(options.images, options.recursive);
  std::string unwritable = output_problem(options.output, list);
  if (unwritable.empty() && !options.report.folder.empty()) unwritable = report_folder_problem(options.report.folder);
  if (!unwritable.empty()) {
    complain(unwritable);
    return kUnusable;
  }
  Sources sources;
  if (!find_factors(options, made_at.substr(0, 10), sources)) return kUnusable;
  for (const std::string& path : list.repeated())
    if (!options.quiet) warn(path + ": named more than once, done once");
  const Images inputs(list, sources, options);
  ResumePoint point;
  if (options.resume) {
    point = resume_point(options.output.csv, measure_csv_header(), list);
    if (point.problem.empty()) point.problem = other_run(point, inputs, options, sources.factors);
    if (!point.problem.empty()) {
      complain(point.problem);
      return kUnusable;
    }
  }
  ReportPlan pages = options.report;
  pages.printed_at = made_at;
  Run run(pages);
  std::optional<RowFile> rows;
  if (!options.output.csv.empty()) {
    rows.emplace(options.output.csv, point.keep_bytes);
    if (point.keep_bytes == 0) rows->append(measure_csv_header());
  }
  MeasurementDocument document(options.output.json);
  measure_all(inputs, point.first, options, sources.factors, rows ? &*rows : nullptr, document, run);
  if (rows) run.problems.push_back(rows->problem());
  conclude(options, sources, made_at, document, point.keep_bytes > 0, run);
  for (const std::string& problem : run.problems) complain(problem);
  return exit_code(run);
}

}  // namespace gradus
