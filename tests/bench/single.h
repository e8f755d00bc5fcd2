// One picture: reading the file against analysing it, and what the program needs for it.
#pragma once

#include "figures.h"
#include "subjects.h"

namespace bench {

inline constexpr double kMemoryBase = 64.0 * 1024.0 * 1024.0;

// Peak resident size of `gradus calibrate` on the subject.
void measure_memory(Figures& figures, const Subject& subject, const std::string& name, double most);

// Decoding and analysis by turns in this process, on two threads; median of each run's ratio.
void measure_ratio(Figures& figures, const Subject& subject, const std::string& name, double most, int runs);

// Wall time of `gradus --version`, median, in milliseconds.
void measure_start(Figures& figures, double most_ms);

}  // namespace bench
