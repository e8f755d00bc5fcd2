// Readings by eye as people write them: "33=34" on the command line, or rows of a CSV file.
#pragma once

#include <scale/reticle.h>

#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

namespace gradus {

// The readings of one set-up, or of none.
struct ReadingSet {
  std::string setup;
  std::vector<scale::EyeReading> readings;
};

// "33=34" or "33.5=34": reticle = micrometer, in divisions. A decimal point says that the fraction was estimated. The
// error is one line that says how to write it.
tl::expected<scale::EyeReading, std::string> parse_reading(const std::string& text);

// "42.5", with the same errors.
tl::expected<double, std::string> parse_divisions(std::string_view text);

// Arguments of the verb; "/" stands between series.
tl::expected<std::vector<scale::EyeReading>, std::string> parse_readings(const std::vector<std::string>& arguments);

// A CSV with a header that names reticle, micrometer and, if wanted, series and setup. The error names path and line.
tl::expected<std::vector<ReadingSet>, std::string> read_readings(const std::string& path);

}  // namespace gradus
