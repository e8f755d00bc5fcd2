// What `measure` prints: images, distributions, and what the uncertainties hold.
#pragma once

#include <string>
#include <vector>

#include "measure_summary.h"

namespace gradus {

// One line an image, of the measured and of the refused ones up to a limit each, then their number.
class ImageTable {
 public:
  void add(const SpecimenOutcome& outcome);
  std::string text() const;
  std::size_t measured() const { return measured_; }
  std::size_t refused() const { return refused_; }
  std::size_t unreadable() const { return unreadable_; }

 private:
  struct Line {
    std::string image, bodies, width, notes;
    bool refused = false;
  };
  std::vector<Line> lines_;
  std::size_t measured_ = 0, refused_ = 0, unreadable_ = 0, bodies_ = 0;
};

// What --accept-overdue let through, a line a calibration; empty: nothing.
std::string overdue_words(const std::vector<Summary>& summaries, const std::vector<FactorInUse>& factors);

std::string summary_table(const std::vector<Summary>& summaries, const scale::DistributionOptions& options,
                          bool edge_stated, bool factor_stated);

}  // namespace gradus
