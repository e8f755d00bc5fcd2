// Verdicts counted, as a table with its limits.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "judge.h"

namespace accuracy {

struct Tally {
  std::size_t scenes = 0, right = 0, wrong = 0, refused = 0, low_confidence = 0, gross = 0, threw = 0;
  std::size_t few_wrong = 0;  ///< three or four graduations, wrong and not said to be of low confidence
  std::size_t fair = 0, fair_right = 0, fair_wrong = 0;
  std::size_t hidden = 0, hidden_right = 0;  ///< fair but for a division that does not show
  // Axes found in fair scenes without distortion:
  std::size_t axes = 0, inside = 0;
  std::vector<double> direction_errors_deg;

  void add(const Verdict& verdict);
  void add(const Tally& other);
};

std::string tally_heading();
std::string tally_row(const std::string& name, const Tally& tally);

/// Prints each limit with what was reached; true when all are kept.
bool print_limits(const Tally& scenes, const Tally& without_scale, bool share);

}  // namespace accuracy
