// What keeps a factor out of the register unless somebody accepts it. The codes are in docs/formats.md.
#pragma once

#include <scale/lab.h>

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace gradus {

// The calibration that the register holds of a set-up.
struct RegisteredFactor {
  std::int64_t number = 0;
  double value = 0.0, expanded_uncertainty = 0.0;
};

struct JudgedFactor {
  scale::CalibrationFactor factor;
  std::optional<double> nominal;
  std::optional<RegisteredFactor> before;
  std::string per;  // "px" or "div", for the messages
};

// "2026-02-28"
std::string date_words(const std::chrono::year_month_day& date);

// How far the engravings of the optics may be off together, relative.
double optics_tolerance(const scale::LabSetup& setup);

std::vector<scale::Warning> flags_of(const JudgedFactor& judged, const scale::LabSetup& setup,
                                     const scale::LabScale& scale, const std::chrono::year_month_day& today);

}  // namespace gradus
