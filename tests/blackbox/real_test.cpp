// Real photographs, against pitches read by hand.
#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <set>

#include "blackbox/photographs.h"
#include "cli/process.h"
#include "support/within.h"

namespace {

using cli_test::gradus;
using namespace photographs;
using nlohmann::json;
namespace fs = std::filesystem;

// An uncertainty larger than this, relative, would let any factor pass.
constexpr double kMostUncertainty = 0.01;

json result_of(const fs::path& image) {
  const auto finished = gradus({"calibrate", image.string(), "--division", "10um", "--json", "-", "--quiet"});
  INFO(finished.errors);
  REQUIRE(finished.exit_code <= 2);
  const json results = json::parse(finished.output).at("results");
  REQUIRE(results.size() == 1);
  return results.at(0);
}

// Each axis has the pitch of that edge of the frame to which it lies nearer.
void check_axes(const json& result, const Photograph& photograph) {
  REQUIRE(result.at("axes").size() >= 1);
  for (const json& axis : result.at("axes")) {
    const bool along_x = std::abs(axis.at("direction_deg").get<double>()) < 45.0;
    const Reading pitch = along_x ? *photograph.pitch_x_px : *photograph.pitch_y_px;
    INFO("axis at ", axis.at("direction_deg").get<double>(), " degrees");
    const double fit = 2.0 * axis.at("pitch_fit_uncertainty_px").get<double>();
    CHECK(within(axis.at("pitch_px"), pitch.value, kReadingCoverage * pitch.uncertainty + fit));
  }
}

void check(const json& result, const Photograph& photograph) {
  if (!photograph.um_per_pixel) {
    CHECK(result.at("status") == "refused");
    return;
  }
  INFO(result.dump());
  REQUIRE(result.at("status") == "calibrated");
  const json& factor = result.at("um_per_pixel");
  const double value = factor.at("value"), expanded = factor.at("expanded_uncertainty");
  const Reading read = *photograph.um_per_pixel;
  CHECK(within(value, read.value, kReadingCoverage * read.uncertainty + expanded));
  CHECK(expanded < kMostUncertainty * value);
  if (photograph.pitch_x_px) check_axes(result, photograph);
}

}  // namespace

TEST_CASE("known photographs give the factor read by hand, or are refused where no scale is") {
  const auto where = folder();
  if (!where) return;
  int known = 0;
  for (const Photograph& photograph : kPhotographs) {
    if (!fs::exists(*where / photograph.file)) continue;
    ++known;
    INFO(photograph.file);
    check(result_of(*where / photograph.file), photograph);
  }
  std::printf("%d of %zu known photographs are in %s\n", known, std::size(kPhotographs), where->c_str());
}

TEST_CASE("unknown photographs are calibrated or refused, without a crash") {
  const auto where = folder();
  if (!where) return;
  std::set<fs::path> known;
  for (const Photograph& photograph : kPhotographs) known.insert(photograph.file);
  for (const auto& entry : fs::directory_iterator(*where)) {
    const std::string ending = entry.path().extension().string();
    const bool picture = ending == ".png" || ending == ".jpg" || ending == ".jpeg" || ending == ".tif" ||
                         ending == ".tiff" || ending == ".bmp";
    if (!picture || known.count(entry.path().filename()) > 0) continue;
    INFO(entry.path().string());
    const json result = result_of(entry.path());
    const std::string status = result.at("status");
    CHECK((status == "calibrated" || status == "refused"));
    std::printf("%s: %s\n", entry.path().filename().c_str(), status.c_str());
  }
}
