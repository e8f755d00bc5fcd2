// What the readings of one set-up came to: all that table, JSON and register need.
#pragma once

#include <scale/reticle.h>

#include <optional>
#include <string>
#include <vector>

#include "flags.h"
#include "lab_room.h"
#include "reticle_readings.h"
#include "setups_json.h"

namespace gradus {

struct ReticleOutcome {
  ReadingSet set;
  std::string picture, sha256;       // the file instead of readings; empty: readings by eye
  std::vector<scale::Warning> seen;  // warnings of the picture
  Json input;                        // what was found in the picture; null: not kept
  std::optional<std::size_t> setup;  // place in the lab file's list
  double division_um = 0.0;
  std::optional<scale::ReticleCalibration> calibration;  // absent: refused, for `reason`
  scale::Failure reason;
  std::optional<double> nominal;  // micrometres per division
  std::optional<RegisteredFactor> before;
  std::vector<scale::Warning> flags;
  std::optional<std::chrono::year_month_day> due;
  std::optional<scale::Record> record;

  std::string status() const { return !calibration ? "refused" : flags.empty() ? "calibrated" : "flagged"; }
  // The engine's, and that the budget is not complete; not those of the picture.
  std::vector<scale::Warning> warnings() const;
};

// Blocks of text, one an outcome: the factor, each reading with its residual, the budget, what to read next.
std::string reticle_table(const std::vector<ReticleOutcome>& outcomes);

// What the room makes of it: the fields nominal_um_per_division, registered, due, record and flags.
void add_room_verdict(Json& json, const ReticleOutcome& outcome);

// gradus/reticle/1.
std::string reticle_json(const std::vector<ReticleOutcome>& outcomes);

// The content of the record of one, gradus/reticle-record/1. `lab` null: it is never recorded, but gets a sheet.
std::string reticle_record_content(const ReticleOutcome& outcome, const scale::Lab* lab, const std::string& accepted);

}  // namespace gradus
