// Bad usage: exit 2, one line on standard error that says what to do, nothing on standard output, no file read.
#include <doctest/doctest.h>

#include <algorithm>

#include "process.h"
#include "scenes.h"
#include "support/slower.h"

namespace cli_test {
namespace {

using Words = std::vector<std::string>;

void check_usage_error(const Words& arguments, const std::string& cause) {
  const Finished run = gradus(arguments);
  CAPTURE(run.errors);
  CHECK(run.exit_code == 2);
  CHECK(run.output.empty());
  CHECK(lines_of(run.errors).size() == 1);
  CHECK(run.errors.starts_with("gradus: "));
  CHECK(run.errors.find(cause) != std::string::npos);
}

TEST_CASE("--version prints the project's version") {
  const Finished run = gradus({"--version"});
  CHECK(run.exit_code == 0);
  CHECK(run.output == "gradus " GRADUS_VERSION "\n");
  CHECK(run.errors.empty());
}

// Of processor time, which on an idle machine is what a person waits for: the bench `speed` takes that.
TEST_CASE("--version takes less than 30 ms") {
  double best_ms = 1e9;  // of five: the first may load libraries from disk
  for (int i = 0; i < 5; ++i) {
    const Finished run = gradus({"--version"});
    REQUIRE(run.exit_code == 0);
    best_ms = std::min(best_ms, 1e3 * run.processor_seconds);
  }
  MESSAGE("gradus --version: ", best_ms, " ms");
  CHECK(best_ms < test_support::kSlower * 30.0);
}

TEST_CASE("--help names the verbs and a verb's --help its options") {
  const Finished help = gradus({"--help"});
  CHECK(help.exit_code == 0);
  CHECK(help.errors.empty());
  CHECK(help.output.find("calibrate") != std::string::npos);
  const Finished verb = gradus({"calibrate", "--help"});
  CHECK(verb.exit_code == 0);
  CHECK(verb.errors.empty());
  for (const char* option : {"IMAGES", "--recursive", "--division ", "--division-uncertainty", "--expect", "--json",
                             "--csv", "--pictures", "--region", "--channel", "--jobs", "--quiet"})
    CHECK_MESSAGE(verb.output.find(option) != std::string::npos, option);
}

TEST_CASE("a missing or unknown verb is told") {
  check_usage_error({}, "gradus --help");
  check_usage_error({"frobnicate"}, "gradus --help");
}

TEST_CASE("bad options of calibrate are told before any file is touched") {
  const Words start = {"calibrate", "no-such-file.png"};
  const auto with = [&](const Words& more) {
    Words all = start;
    all.insert(all.end(), more.begin(), more.end());
    return all;
  };
  check_usage_error(start, "--division");
  check_usage_error({"calibrate", "--division", "10um"}, "IMAGES");
  check_usage_error(with({"--division", "0um"}), "greater than zero");
  check_usage_error(with({"--division", "0"}), "greater than zero");
  check_usage_error(with({"--division", "-10um"}), "greater than zero");
  check_usage_error(with({"--division", "10"}), "no unit");
  check_usage_error(with({"--division", "abc"}), "'abc'");
  check_usage_error(with({"--division", "1e9m"}), "outside 1 nm .. 1 m");
  check_usage_error(with({"--division", "10,5um"}), "decimal comma");
  check_usage_error(with({"--division", "10um", "--division-uncertainty", "0.1"}), "percentage");
  check_usage_error(with({"--division", "10um", "--expect", "0.69um"}), "length per pixel");
  check_usage_error(with({"--division", "10um", "--region", "1,2,3"}), "X,Y,W,H");
  check_usage_error(with({"--division", "10um", "--region", "0,0,0,10"}), "X,Y,W,H");
  check_usage_error(with({"--division", "10um", "--region", "-1,0,10,10"}), "X,Y,W,H");
  check_usage_error(with({"--division", "10um", "--channel", "pink"}), "pink");
  check_usage_error(with({"--division", "10um", "--jobs", "0"}), "--jobs");
  check_usage_error(with({"--division", "10um", "--jobs", "many"}), "--jobs");
  check_usage_error(with({"--division", "10um", "--frob"}), "--frob");
  check_usage_error(with({"--division", "10um", "--json"}), "--json");
}

TEST_CASE("options of later verbs are not taken and ignored") {
  const TemporaryFolder folder;
  write_file(folder / "a.bmp", ruling_bmp());
  for (const char* option : {"--lab", "--setup", "--reticle"})
    CHECK(gradus({"calibrate", (folder / "a.bmp").string(), "--division", "10um", option, "x"}).exit_code == 2);
  CHECK(gradus({"calibrate", (folder / "a.bmp").string(), "--division", "10um", "--record"}).exit_code == 2);
}

}  // namespace
}  // namespace cli_test
