// The results of a check as JSON and CSV, and as the register keeps them.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "affected.h"
#include "check_image.h"

namespace gradus {

// What a run says of one set-up.
struct CheckedSetup {
  std::size_t setup = 0;  // place in the lab file's list
  std::string name;
  std::optional<std::int64_t> calibration;    // the record that its images were held against
  std::array<std::size_t, 4> count{};         // by verdict
  std::size_t skipped = 0;                    // checked before and unchanged
  std::vector<scale::ListedRecord> affected;  // since the last good check, when something has drifted
  std::string last_good;                      // when that was; empty: there was none since the calibration
  std::vector<scale::Warning> alerts;         // of the charts
  std::optional<scale::Record> record;        // what was written
};

struct CheckRun {
  const scale::Lab& lab;
  std::vector<CheckOutcome> outcomes;
  std::vector<CheckedSetup> setups;
  std::size_t skipped = 0;
  std::string checked_at;  // UTC
  std::size_t older = 0;   // than --since, left out
};

// gradus/check/1
std::string check_json(const CheckRun& run);
std::string check_csv(const CheckRun& run);

// Content of a check's record, gradus/check-record/1: the results of these outcomes, with what the files are known
// again by. `folder` is that of the lab file; paths are kept relative to it.
std::string check_content(const std::vector<const CheckOutcome*>& outcomes, const CheckedSetup& setup,
                          const scale::Lab& lab, const std::string& folder);

// The path of an image as records keep it: relative to the folder of the lab file, where that can be said.
std::string kept_path(const std::string& image, const std::string& folder);

}  // namespace gradus
