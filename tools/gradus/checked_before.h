// What the register says of earlier checks: which files need not be looked at again, and how a set-up's shots came out.
#pragma once

#include <scale/control_chart.h>
#include <scale/register.h>

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "check_image.h"

namespace gradus {

// One image of a check's record.
struct RecordedCheck {
  std::int64_t record = 0;
  std::string path, verdict, taken_at, made_at;
  FileMark mark;
  bool pixels_looked_at = false, held_by_scale = false;
  double change = 0.0, standard_uncertainty = 0.0;  // relative; of a shot with a scale, the mean of its directions
  double registered_uncertainty = 0.0;              // the register's part of it; 0 where a record does not tell
  std::vector<scale::CheckStandard> spacings;

  bool good() const { return verdict == "within" || verdict == "unverifiable"; }
};

// The images of the checks in `records` that were held against the calibration of this number and not withdrawn, in
// order.
std::vector<RecordedCheck> recorded_checks(const std::vector<scale::ListedRecord>& records, std::int64_t calibration);

// "3 within, 1 drifted" of a check's record; empty for another.
std::string verdicts_in(const scale::Record& record);

// When, and in which record, a shot of the set-up was last found within and none drifted; the calibration itself when
// there is no such record.
struct LastGood {
  std::int64_t record = 0;
  std::string made_at;  // empty: no check was good
};
LastGood last_good(const std::vector<RecordedCheck>& checks, std::int64_t calibration);

// Files known from earlier checks, by their path.
class CheckedBefore {
 public:
  // `folder` is that of the lab file.
  CheckedBefore(const std::vector<RecordedCheck>& checks, std::string folder);

  // The same file, by path, size and time; by its hash where the time differs. A check of tags alone does not stand in
  // for one of the pixels.
  const RecordedCheck* find(const std::string& image, bool tags_only) const;

 private:
  std::map<std::string, RecordedCheck> by_path_;  // the last of each
  std::string folder_;
};

}  // namespace gradus
