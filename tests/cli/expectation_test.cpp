// Ratios are plain arithmetic; which of them are told apart is common practice, no source.
#include "expectation.h"

#include <doctest/doctest.h>

namespace cli_test {
namespace {

std::string code_for(double found, double expected) {
  const auto warning = gradus::compare_with_expected({found}, {expected}, {10.0});
  return warning ? warning->code : "";
}

TEST_CASE("a factor near the expected one says nothing") {
  CHECK(code_for(0.69, 0.69) == "");
  CHECK(code_for(0.69 * 1.099, 0.69) == "");
  CHECK(code_for(0.69 * 0.901, 0.69) == "");
}

TEST_CASE("a factor off by a plain number doubts the division and names both") {
  for (const double ratio : {2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 1000.0}) {
    CHECK(code_for(0.69 * ratio, 0.69) == "division-doubtful");
    CHECK(code_for(0.69 * ratio * 1.04, 0.69) == "division-doubtful");
    CHECK(code_for(0.69 / ratio, 0.69) == "division-doubtful");
  }
  const std::string message = gradus::compare_with_expected({6.9}, {0.69}, {10.0})->message;
  CHECK(message.find("10 times as much") != std::string::npos);
  CHECK(message.find("a division 1 µm instead of 10 µm") != std::string::npos);
  const std::string below = gradus::compare_with_expected({0.138}, {0.69}, {10.0})->message;
  CHECK(below.find("1/5 times as much") != std::string::npos);
  CHECK(below.find("a division 50 µm instead of 10 µm") != std::string::npos);
}

TEST_CASE("a factor off otherwise doubts the set-up") {
  CHECK(code_for(0.69 * 1.11, 0.69) == "off-expected");
  CHECK(code_for(0.69 * 0.89, 0.69) == "off-expected");
  CHECK(code_for(0.69 * 3.0, 0.69) == "off-expected");
}

}  // namespace
}  // namespace cli_test
