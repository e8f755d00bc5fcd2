// gradus check: does each image still carry the scale its set-up is registered with?
#pragma once

#include <CLI/App.hpp>
#include <string>
#include <vector>

#include "outputs.h"
#include "recording.h"
#include "report_pages.h"

namespace gradus {

struct CheckOptions {
  std::vector<std::string> images;  // files and folders
  bool recursive = false;
  std::string lab, setup;  // files; all images belong to the set-up
  std::string since;       // a day: only files written on it or later
  bool tags_only = false, again = false, strict = false, quiet = false;
  bool record = false;
  RecordPlan plan;
  images::Channel channel = images::Channel::luminance;
  OutputPlan output;
  ReportPlan report;
  int jobs = 0;  // threads in all
};

// Adds the verb to `app`. Parsing fills `options` and touches no file.
CLI::App* setup_check(CLI::App& app, CheckOptions& options);

// The exit code: 0, 1 or 2 as in docs/formats.md.
int run_check(const CheckOptions& options);

}  // namespace gradus
