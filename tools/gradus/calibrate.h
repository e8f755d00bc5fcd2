// gradus calibrate: from images of a line scale to micrometres per pixel.
#pragma once

#include <CLI/App.hpp>
#include <string>
#include <vector>

#include "examine.h"
#include "lab_options.h"
#include "outputs.h"
#include "report_pages.h"

namespace gradus {

struct CalibrateOptions {
  std::vector<std::string> images;  // files and folders
  bool recursive = false;
  Examination how;
  int reticle_divisions = 0;  // 0: no reticle is asked for
  scale::ReticleIs reticle_is = scale::ReticleIs::unknown;
  LabOptions lab;
  OutputPlan output;
  ReportPlan report;
  int jobs = 0;  // threads in all
  bool quiet = false;
};

// Adds the verb to `app`. Parsing fills `options` and touches no file.
CLI::App* setup_calibrate(CLI::App& app, CalibrateOptions& options);

// The exit code: 0, 1 or 2 as in docs/formats.md.
int run_calibrate(const CalibrateOptions& options);

}  // namespace gradus
