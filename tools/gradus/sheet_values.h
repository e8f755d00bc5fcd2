// From what the register keeps, or a run has just found, to the values of a calibration sheet; no picture is read here.
#pragma once

#include <scale/calibration_page.h>
#include <scale/register.h>

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "recorded_shots.h"

namespace gradus {

// The register at one moment, found to be as it was written.
struct RegisterFacts {
  scale::ChainState chain;
  std::vector<scale::ListedRecord> records;
};

// Nothing when there is no register. `problem`: it could not be read, or is not as it was written (`unsound`).
struct RegisterReading {
  std::optional<RegisterFacts> facts;
  std::string problem;
  bool unsound = false;
};
RegisterReading read_register(const std::string& path);

// One calibration that gets a sheet.
struct SheetSource {
  std::string setup;              // name; of a picture without a lab file: its path
  nlohmann::json content;         // as record_content makes it
  std::optional<scale::Lab> lab;  // as it was when the calibration was made
  std::string made_at;
  std::optional<scale::PageRecord> record;  // absent: not recorded
  scale::StatedScales stated = {};          // without a lab file
};

// Of a reticle: its factor is per division.
bool is_reticle(const SheetSource& source);
// From one picture instead of readings by eye.
bool is_reticle_in_picture(const SheetSource& source);

// The current calibration of a set-up; null when it has none.
const scale::ListedRecord* current_record(const RegisterFacts& facts, const std::string& setup);

// The current calibration of every set-up of `lab`; a record that cannot be understood is named in `problems`.
std::vector<SheetSource> current_sources(const scale::Lab& lab, const RegisterFacts& facts,
                                         std::vector<std::string>& problems);

// "current", "withdrawn by 7", "superseded by 9".
scale::PageRecord page_record(const scale::ListedRecord& listed);

// Throws nlohmann::json::exception when the content is not as it should be.
scale::CalibrationSheet sheet_of(const SheetSource& source, const std::vector<RecordedShot>& shots,
                                 const RegisterFacts* facts);

scale::CalibrationFactor factor_from(const nlohmann::json& factor);

}  // namespace gradus
