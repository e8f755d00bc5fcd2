// The JSON document of `measure`, gradus/measurement/1: docs/formats.md, docs/schema/measurement-1.schema.json.
#pragma once

#include <images/output_file.h>

#include <optional>
#include <string>
#include <vector>

#include "measure_summary.h"
#include "setups_json.h"

namespace gradus {

Json measurement_json(const SpecimenOutcome& outcome, const FactorInUse& factor);
Json summary_json(const Summary& summary);

// Results go into a hidden file as they come, so that memory does not grow with them; it takes its name when all are
// in.
class MeasurementDocument {
 public:
  // "-" is standard output, empty is none.
  explicit MeasurementDocument(const std::string& target);
  void add(const SpecimenOutcome& outcome, const FactorInUse& factor);
  // The problem in one line; empty when the document stands.
  std::string finish(const std::vector<Summary>& summaries, const std::vector<std::int64_t>& records);

 private:
  void write(const std::string& text);

  std::string target_, problem_, held_;  // held: for standard output
  std::optional<images::OutputFile> file_;
  bool first_ = true;
};

}  // namespace gradus
