// A program run as a person would run it, with what it cost.
#pragma once

#include <string>
#include <vector>

namespace bench {

struct Cost {
  int exit_code = -1;       // 128 + signal when it was killed
  double seconds = 0.0;     // wall clock, from the fork to the end
  double peak_bytes = 0.0;  // largest resident size. Counts the bench's own size at the fork too: keep that small
  std::string output;       // standard output
};

Cost run(const std::vector<std::string>& command);

// The bench's own resident size up to now, in bytes.
double own_peak_bytes();

}  // namespace bench
