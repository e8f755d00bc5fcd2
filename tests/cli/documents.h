// What the tests read of a run's results.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include "process.h"

namespace cli_test {

inline bool within(double actual, double expected, double tolerance) {
  const bool good = std::abs(actual - expected) <= tolerance;
  if (!good) MESSAGE("actual ", actual, ", expected ", expected, ", off by ", actual - expected);
  return good;
}

inline bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

// `gradus calibrate ARGUMENTS --division 10um --json -`, its document.
inline nlohmann::json results_of(std::vector<std::string> arguments, const Surroundings& surroundings = {}) {
  arguments.insert(arguments.begin(), "calibrate");
  for (const char* more : {"--division", "10um", "--json", "-"}) arguments.push_back(more);
  return nlohmann::json::parse(gradus(arguments, surroundings).output).at("results");
}

inline std::vector<std::string> warning_codes(const nlohmann::json& result) {
  std::vector<std::string> codes;
  for (const auto& warning : result.at("warnings")) codes.push_back(warning.at("code"));
  return codes;
}

inline bool warned_of(const nlohmann::json& result, const std::string& code) {
  const auto codes = warning_codes(result);
  return std::find(codes.begin(), codes.end(), code) != codes.end();
}

// The codes in the first column of the table under this heading of a page.
inline std::set<std::string> codes_listed(const std::string& page, const std::string& heading) {
  const std::size_t begin = page.find(heading);
  REQUIRE(begin != std::string::npos);
  const std::string section = page.substr(begin, page.find("\n#", begin + 1) - begin);
  std::set<std::string> codes;
  const std::regex first_cell("\n\\| `([a-z-]+)` ");
  for (std::sregex_iterator match(section.begin(), section.end(), first_cell), end; match != end; ++match)
    codes.insert((*match)[1]);
  return codes;
}

inline std::set<std::string> as_set(const nlohmann::json& list) { return {list.begin(), list.end()}; }

}  // namespace cli_test
