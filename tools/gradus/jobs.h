// How many threads a run has.
#pragma once

#include <algorithm>
#include <thread>

namespace gradus {

// More threads than that only cost memory; a larger number was mistyped.
inline constexpr int kMostJobs = 256;

// As many as the machine has.
inline int hardware_jobs() { return std::clamp(static_cast<int>(std::thread::hardware_concurrency()), 1, kMostJobs); }

}  // namespace gradus
