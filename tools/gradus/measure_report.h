// The page of a run of `measure`.
#pragma once

#include <scale/measurement_page.h>

#include <string>
#include <vector>

#include "measure_summary.h"
#include "report_pages.h"

namespace gradus {

// Collects what the page shows while the images go by: the first bodies, pictures and refusals, and counts of all.
class MeasurementReport {
 public:
  // So many images, from the first of a run, get a picture on the page.
  static constexpr std::size_t kPictures = 12;

  explicit MeasurementReport(const ReportPlan& plan) : plan_(plan) {}
  void add(SpecimenOutcome& outcome);  // takes the picture out of it

  // `csv` is the table of the run, "-" or empty: none that could be linked. Problems, one line each.
  std::vector<std::string> write(const std::vector<Summary>& summaries, const std::vector<FactorInUse>& factors,
                                 const MeasureOptions& options, const scale::Lab* lab, bool edges_stated,
                                 const std::vector<std::int64_t>& records);

 private:
  const ReportPlan& plan_;
  scale::MeasurementPage page_;
  std::vector<std::string> problems_;
};

}  // namespace gradus
