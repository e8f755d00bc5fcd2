// The options of `calibrate` that need a lab file.
#pragma once

#include <scale/lab.h>
#include <scale/quantity_text.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "recording.h"

namespace gradus {

struct LabOptions {
  std::string file;   // empty: none
  std::string setup;  // all images belong to it
  std::vector<scale::LabShots> shots;
  bool record = false;
  RecordPlan plan;  // made_at empty: now
  bool budget = false;
  std::size_t monte_carlo_trials = 0;
};

// What was parsed, or a usage error that names the option.
template <class Value>
Value value_or_usage_error(const scale::Parsed<Value>& parsed, const std::string& option) {
  if (!parsed) throw CLI::ValidationError(option, parsed.error());
  return *parsed;
}

void add_lab_options(CLI::App& verb, LabOptions& lab);

// --record, --operator, --accept and --at.
void add_record_options(CLI::App& verb, bool& record, RecordPlan& plan);

// What is wrong with them together; empty when nothing is.
// For texts that the register keeps as a proof.
CLI::Validator not_blank();

std::string record_misfit(bool record, const RecordPlan& plan);

}  // namespace gradus
