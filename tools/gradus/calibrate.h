// gradus calibrate: from images of a line scale to micrometres per pixel.
#pragma once

#include <CLI/App.hpp>
#include <string>
#include <vector>

#include "examine.h"
#include "outputs.h"
#include "recording.h"

namespace gradus {

// With a lab file.
struct LabOptions {
  std::string file;   // empty: none
  std::string setup;  // all images belong to it
  std::vector<scale::LabShots> shots;
  bool record = false;
  RecordPlan plan;  // made_at empty: now
  bool budget = false;
  std::size_t monte_carlo_trials = 0;
};

struct CalibrateOptions {
  std::vector<std::string> images;  // files and folders
  bool recursive = false;
  Examination how;
  LabOptions lab;
  OutputPlan output;
  int jobs = 0;  // threads in all
  bool quiet = false;
};

// Adds the verb to `app`. Parsing fills `options` and touches no file.
CLI::App* setup_calibrate(CLI::App& app, CalibrateOptions& options);

// The exit code: 0, 1 or 2 as in docs/formats.md.
int run_calibrate(const CalibrateOptions& options);

}  // namespace gradus
