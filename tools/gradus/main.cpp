// gradus: the batch tool.
//
// How to add a verb:
//   1) verb.h, verb.cpp: a struct of options; setup_verb(app, options), which parses and touches no file;
//      run_verb(options), which works and gives the exit code;
//   2) here: a member of Verbs, and a line in run();
//   3) CMakeLists.txt: verb.cpp;
//   4) docs/formats.md: what it writes, with a schema; tests/cli: its test.
#include <CLI/CLI.hpp>
#include <exception>
#include <iostream>
#include <string>
#include <vector>

#include "calibrate.h"
#include "check.h"
#include "keep_memory.h"
#include "measure.h"
#include "messages.h"
#include "register_verb.h"
#include "report.h"
#include "reticle.h"

namespace {

constexpr int kUsageError = 2;

struct Verbs {
  gradus::CalibrateOptions calibrate;
  gradus::MeasureOptions measure;
  gradus::CheckOptions check;
  gradus::RegisterOptions reg;
  gradus::ReportOptions report;
  gradus::ReticleOptions reticle;
};

// Help goes to standard output; a mistake is one line with the way to the help.
int explain(const CLI::App& app, const CLI::ParseError& stop) {
  if (stop.get_exit_code() == 0) return app.exit(stop);
  const auto chosen = app.get_subcommands();
  const std::string verb = chosen.empty() ? "" : " " + chosen.front()->get_name();
  const std::string cause = chosen.empty() ? "no verb that is known here was given" : stop.what();
  gradus::complain(cause + "; see gradus" + verb + " --help");
  return kUsageError;
}

// CLI11 takes "[a,b]" apart as a list, and it is a good name for a folder: "./[a,b]" says the same and stays whole.
// The last argument comes first, as CLI11 wants them.
std::vector<std::string> guarded_arguments(int argc, char** argv) {
  std::vector<std::string> arguments;
  for (int i = argc - 1; i > 0; --i) {
    const std::string argument = argv[i];
    const bool list_like = argument.starts_with('[') && argument.ends_with(']');
    arguments.push_back(list_like ? "./" + argument : argument);
  }
  return arguments;
}

int run(int argc, char** argv) {
  CLI::App app(
      "Tells what one pixel of a microscope camera, or one division of an eyepiece reticle, is worth in micrometres,\n"
      "proves it, measures with it, and says when it is no longer true.",
      "gradus");
  app.set_version_flag("--version", "gradus " GRADUS_VERSION);
  app.set_help_flag("--help", "Print this help");
  app.require_subcommand(1);
  Verbs verbs;
  const CLI::App* calibrate = gradus::setup_calibrate(app, verbs.calibrate);
  const CLI::App* measure = gradus::setup_measure(app, verbs.measure);
  const CLI::App* check = gradus::setup_check(app, verbs.check);
  const CLI::App* reg = gradus::setup_register(app, verbs.reg);
  const CLI::App* report = gradus::setup_report(app, verbs.report);
  const CLI::App* reticle = gradus::setup_reticle(app, verbs.reticle);
  try {
    app.parse(guarded_arguments(argc, argv));
  } catch (const CLI::ParseError& stop) {
    return explain(app, stop);
  }
  if (measure->parsed()) return gradus::run_measure(verbs.measure);
  if (check->parsed()) return gradus::run_check(verbs.check);
  if (reg->parsed()) return gradus::run_register(*reg, verbs.reg);
  if (report->parsed()) return gradus::run_report(verbs.report);
  if (reticle->parsed()) return gradus::run_reticle(*reticle, verbs.reticle);
  return calibrate->parsed() ? gradus::run_calibrate(verbs.calibrate) : kUsageError;
}

}  // namespace

int main(int argc, char** argv) {
  gradus::keep_memory();
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    gradus::complain(std::string("stopped: ") + error.what() + "; please report it");
    return kUsageError;
  }
}
