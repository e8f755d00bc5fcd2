// gradus reticle: from readings by eye to micrometres per division of an eyepiece reticle, and its use.
#pragma once

#include <scale/reticle.h>

#include <CLI/App.hpp>
#include <optional>
#include <string>
#include <vector>

#include "lab_options.h"
#include "report_pages.h"
#include "reticle_card.h"
#include "reticle_size.h"

namespace gradus {

struct ReticleOptions {
  std::vector<std::string> arguments;   // readings, "/" between series
  std::string file;                     // CSV of readings
  scale::ReferenceScale reference;      // without a lab file
  scale::ReadingConditions conditions;  // but for parallax
  std::optional<double> parallax;       // absent: as the lab file says
  std::string lab, setup;
  bool record = false;
  RecordPlan plan;
  std::string json;
  ReportPlan report;
  bool quiet = false;
  bool table = false;  // print the card
  CardOptions card;
  SizeOptions size;
};

// Adds the verb to `app`. Parsing fills `options` and touches no file.
CLI::App* setup_reticle(CLI::App& app, ReticleOptions& options);

// The exit code: 0, 1 or 2 as in docs/formats.md.
int run_reticle(const CLI::App& verb, const ReticleOptions& options);

}  // namespace gradus
