// The rendered samples against the truth beside them.
#include <doctest/doctest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/process.h"
#include "support/within.h"

namespace {

using cli_test::gradus;
using nlohmann::json;
namespace fs = std::filesystem;

constexpr double kDivisionUm = 10.0;
constexpr double kReticleUm = 10.311;  // one division of the reticle in eyepiece/, by samples/README.md
// An uncertainty above this, relative, would let any factor pass. The certificate's 0.15 um over the 200 um that are in
// view at 40x are 7.5e-4.
constexpr double kMostUncertainty = 1.5e-3;
constexpr double kAngleToleranceDeg =
    0.02;  // 0.05 um of graduation error on a line of 60 um does not turn a mean so far
constexpr std::size_t kSetups = 4, kShots = 4;

struct Run {
  int exit_code;
  std::string errors;
  json results, setups;
};

const Run& run_over_samples() {
  static const Run run = [] {
    const auto finished = gradus({"calibrate", SAMPLES_FOLDER "/calibration", "--recursive", "--lab",
                                  SAMPLES_FOLDER "/lab.toml", "--at", "2026-02-28T09:30:00Z", "--json", "-"});
    const json document = json::parse(finished.output);
    return Run{finished.exit_code, finished.errors, document.at("results"), document.at("setups")};
  }();
  return run;
}

json truth_beside(const std::string& image) {
  return json::parse(cli_test::read_file(fs::path(image).replace_extension(".json")));
}

}  // namespace

TEST_CASE("every sample is calibrated, in the order of its name") {
  const Run& run = run_over_samples();
  CHECK(run.exit_code == 0);
  REQUIRE(run.results.size() == kSetups * kShots);
  std::vector<std::string> names;
  for (const json& result : run.results) {
    names.push_back(result.at("image"));
    CHECK_MESSAGE(result.at("status") == "calibrated", names.back());
  }
  CHECK(std::is_sorted(names.begin(), names.end()));
}

TEST_CASE("every sample's factor agrees with its truth within U and the fit's own standard uncertainty") {
  for (const json& result : run_over_samples().results) {
    const std::string image = result.at("image");
    INFO(image);
    const json truth = truth_beside(image).at("axes").at(0);
    const json& factor = result.at("um_per_pixel");
    const double value = factor.at("value"), expanded = factor.at("expanded_uncertainty");
    const double claimed = factor.at("fit_uncertainty");
    CHECK(within(value, kDivisionUm / truth.at("pitch_px").get<double>(), expanded + claimed));
    CHECK(expanded > 0.0);
    CHECK(expanded < kMostUncertainty * value);
  }
}

TEST_CASE("every sample's direction and number of graduations are the true ones") {
  for (const json& result : run_over_samples().results) {
    const std::string image = result.at("image");
    INFO(image);
    const json truth = truth_beside(image).at("axes").at(0);
    REQUIRE(result.at("axes").size() == 1);
    const json& axis = result.at("axes").at(0);
    CHECK(within(axis.at("direction_deg"), truth.at("direction_deg"), kAngleToleranceDeg));
    // Lines cut by the frame's edge, at most one at each end, may be left out.
    const int in_view = truth.at("graduations_in_view"), found = axis.at("graduations");
    CHECK(found <= in_view);
    CHECK(found + axis.at("missing").get<int>() >= in_view - 2);
  }
}

TEST_CASE("every set-up's factor agrees with the truth within U, its budget is whole, and nothing is flagged") {
  const Run& run = run_over_samples();
  REQUIRE(run.setups.size() == kSetups);
  for (const json& setup : run.setups) {
    INFO(setup.at("setup"));
    CHECK(setup.at("status") == "calibrated");
    const json& factor = setup.at("um_per_pixel");
    CHECK(factor.at("budget_complete") == true);
    const json truth = truth_beside(setup.at("shots").at(0).at("image")).at("axes").at(0);
    const double value = factor.at("value"), expanded = factor.at("expanded_uncertainty");
    CHECK(within(value, kDivisionUm / truth.at("pitch_px").get<double>(), expanded));
    CHECK(expanded < kMostUncertainty * value);
    CHECK_FALSE(setup.at("x").is_null());
    CHECK_FALSE(setup.at("y").is_null());
  }
}

TEST_CASE("the shots of a set-up agree among themselves") {
  const json& results = run_over_samples().results;
  REQUIRE(results.size() == kSetups * kShots);
  for (std::size_t first = 0; first < results.size(); first += kShots) {
    for (std::size_t i = first; i < first + kShots; ++i) {
      const json &a = results[first].at("um_per_pixel"), &b = results[i].at("um_per_pixel");
      INFO(results[i].at("image"));
      const double allowed = a.at("expanded_uncertainty").get<double>() + b.at("expanded_uncertainty").get<double>();
      CHECK(within(a.at("value"), b.at("value"), allowed));
    }
  }
}

TEST_CASE("the picture through the eyepiece gives the worth of a reticle division that it was drawn with") {
  const auto finished =
      gradus({"calibrate", SAMPLES_FOLDER "/eyepiece/10x.jpg", "--division", "10um", "--division-uncertainty", "0.05 %",
              "--reticle", "100", "--reticle-is", "lower", "--json", "-", "--quiet"});
  REQUIRE(finished.exit_code == 0);
  const json factor = json::parse(finished.output).at("results").at(0).at("um_per_division");
  const double value = factor.at("value"), expanded = factor.at("expanded_uncertainty");
  CHECK(within(value, kReticleUm, expanded));
  CHECK(expanded < kMostUncertainty * value);
  CHECK_FALSE(within(value, 1.005 * kReticleUm, expanded));
  const json& first = factor.at("coincidences").at(0);
  CHECK(first.at("reticle") == 0);
  CHECK(first.at("micrometer") == 0);
}

TEST_CASE("a truth that is off by half a percent would be noticed") {
  const json& result = run_over_samples().results.at(0);
  const json& factor = result.at("um_per_pixel");
  const double wrong =
      1.005 * kDivisionUm / truth_beside(result.at("image")).at("axes").at(0).at("pitch_px").get<double>();
  const double allowed = factor.at("expanded_uncertainty").get<double>() + factor.at("fit_uncertainty").get<double>();
  CHECK_FALSE(within(factor.at("value"), wrong, allowed));
}
