// A run of `measure` on its way into the register, so that what rests on a factor can be found again.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "measure_summary.h"
#include "setups_json.h"

namespace gradus {

// What the register keeps of each image: path, hash, how many bodies or why none. Some 150 bytes an image and its
// path, as JSON text: as values they would be three times that.
class MeasuredImages {
 public:
  void add(const SpecimenOutcome& outcome);
  const std::string& of(std::size_t factor) const { return images_.at(factor); }  // a list, without its brackets
  std::vector<std::size_t> factors() const;

 private:
  std::map<std::size_t, std::string> images_;
};

struct MeasurementRecords {
  std::vector<std::int64_t> numbers;
  std::string problem;  // one line; empty: all were written
};

// One record of kind `measurement` a set-up that was used; it rests on (`about`) the calibration whose factor was used.
MeasurementRecords record_measurements(const LabRoom& room, const std::vector<FactorInUse>& factors,
                                       const MeasuredImages& images, const std::vector<Summary>& summaries,
                                       const std::string& made_by, const std::string& made_at);

}  // namespace gradus
