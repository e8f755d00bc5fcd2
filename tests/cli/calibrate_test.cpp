// Factors of pictures whose truth is known by the way they were made.
#include <filesystem>

#include "documents.h"
#include "scenes.h"

namespace cli_test {
namespace {

using nlohmann::json;

// What the project promises of a right result: off by at most 1e-4 or three fit uncertainties.
constexpr double kRelativeTolerance = 1e-4;

double tolerance_of(const json& result) {
  const json& factor = result.at("um_per_pixel");
  return std::max(kRelativeTolerance * factor.at("value").get<double>(),
                  3.0 * factor.at("fit_uncertainty").get<double>());
}

json one_result(const TemporaryFolder& folder, const std::string& bytes, const std::vector<std::string>& options = {}) {
  write_file(folder / "scale.bmp", bytes);
  std::vector<std::string> arguments = {(folder / "scale.bmp").string()};
  arguments.insert(arguments.end(), options.begin(), options.end());
  const json results = results_of(arguments);
  REQUIRE(results.size() == 1);
  return results[0];
}

TEST_CASE("a ruling of 14.5 px a division of 10 um gives 10/14.5 um per pixel") {
  const TemporaryFolder folder;
  const json result = one_result(folder, ruling_bmp());
  REQUIRE(result.at("status") == "calibrated");
  const double factor = result["um_per_pixel"]["value"];
  CHECK(within(factor, 10.0 / 14.5, tolerance_of(result)));
  CHECK(within(result["pixels_per_um"]["value"], 1.0 / factor, 1e-12));
  CHECK(result["um_per_pixel"]["budget_complete"] == false);
  CHECK(warned_of(result, "budget-incomplete"));
  CHECK(result["um_per_division"].is_null());
  REQUIRE(result["axes"].size() == 1);
  const json& axis = result["axes"][0];
  CHECK(axis["division_um"] == 10.0);
  CHECK(within(axis["direction_deg"], 0.0, 0.01));
  CHECK(within(axis["um_per_pixel"], 10.0 / axis["pitch_px"].get<double>(), 1e-12));
  // Lines at 21.37 + 14.5 n fit 43 times into 640 columns; the last is cut by the frame.
  CHECK(within(axis["graduations"], 43.0, 1.0));
}

TEST_CASE("the whole of a run without a flaw is a table on standard output and an empty standard error") {
  const TemporaryFolder folder;
  write_file(folder / "scale.bmp", ruling_bmp());
  const Finished run = gradus({"calibrate", "scale.bmp", "--division", "10 µm"}, {folder.path(), false, ""});
  CHECK(run.exit_code == 0);
  CHECK(run.errors.empty());
  const auto lines = lines_of(run.output);
  REQUIRE(lines.size() >= 5);
  CHECK(lines[0].starts_with("image"));
  CHECK(lines[2].starts_with("scale.bmp  0.6896"));
  CHECK(contains(lines[2], "10 µm"));
  CHECK(contains(run.output, "1 calibrated.\n"));
  CHECK(contains(run.output, "--division-uncertainty"));
}

TEST_CASE("the factor follows the division and its unit") {
  const TemporaryFolder folder;
  write_file(folder / "scale.bmp", ruling_bmp());
  const auto factor = [&](const std::string& division) {
    const Finished run = gradus({"calibrate", (folder / "scale.bmp").string(), "--division", division, "--json", "-"});
    return json::parse(run.output)["results"][0]["um_per_pixel"]["value"].get<double>();
  };
  CHECK(within(factor("0.02mm"), 2.0 * factor("10um"), 1e-14));
  CHECK(factor("10000 nm") == factor("10um"));
}

TEST_CASE("a stated uncertainty of the scale completes the budget and enters U") {
  const TemporaryFolder folder;
  const json without = one_result(folder, ruling_bmp());
  const json with = one_result(folder, ruling_bmp(), {"--division-uncertainty", "0.1 %"});
  CHECK(with["um_per_pixel"]["budget_complete"] == true);
  CHECK_FALSE(warned_of(with, "budget-incomplete"));
  const double k = with["um_per_pixel"]["coverage_factor"], value = with["um_per_pixel"]["value"];
  const double own = without["um_per_pixel"]["expanded_uncertainty"].get<double>() /
                     without["um_per_pixel"]["coverage_factor"].get<double>();
  // JCGM 100, 5.1.2: standard uncertainties add in squares; 0.1 % is stated for k = 2.
  const double expected = k * std::hypot(own, 0.0005 * value);
  CHECK(within(with["um_per_pixel"]["expanded_uncertainty"], expected, 1e-9 * expected));
  CHECK(with["um_per_pixel"]["value"] == without["um_per_pixel"]["value"]);
  const json as_length = one_result(folder, ruling_bmp(), {"--division-uncertainty", "1um/1mm"});
  CHECK(within(as_length["um_per_pixel"]["expanded_uncertainty"], expected, 1e-9 * expected));
}

TEST_CASE("an expected factor that is ten times off doubts the division, on standard error and in the results") {
  const TemporaryFolder folder;
  write_file(folder / "scale.bmp", ruling_bmp());
  const std::string path = (folder / "scale.bmp").string();
  const Finished run = gradus({"calibrate", path, "--division", "10um", "--expect", "0.069um/px"});
  CHECK(run.exit_code == 0);
  CHECK(lines_of(run.errors).size() == 1);
  CHECK(contains(run.errors, "10 times"));
  CHECK(contains(run.output, "division-doubtful"));
  CHECK(warned_of(results_of({path, "--expect", "0.069um/px"})[0], "division-doubtful"));
  CHECK(warned_of(results_of({path, "--expect", "0.55um/px"})[0], "off-expected"));
  CHECK(warning_codes(results_of({path, "--expect", "0.69um/px"})[0]) == std::vector<std::string>{"budget-incomplete"});
}

TEST_CASE("--region looks at that part alone") {
  const TemporaryFolder folder;
  const json whole = one_result(folder, ruling_bmp());
  const json part = one_result(folder, ruling_bmp(), {"--region", "100,40,300,200"});
  REQUIRE(part.at("status") == "calibrated");
  // 300 px hold 20 divisions of 14.5 px.
  CHECK(within(part["axes"][0]["graduations"], 20.0, 1.0));
  CHECK(part["axes"][0]["graduations"] < whole["axes"][0]["graduations"]);
  CHECK(within(part["um_per_pixel"]["value"], 10.0 / 14.5, tolerance_of(part)));
}

TEST_CASE("a region beyond the picture is refused with both sizes") {
  const TemporaryFolder folder;
  for (const char* region : {"600,0,41,100", "0,300,10,61", "5000,5000,10,10"}) {
    const json result = one_result(folder, ruling_bmp(), {"--region", region});
    CHECK(result.at("status") == "refused");
    CHECK(result["reason"]["code"] == "region-outside");
    CHECK(contains(result["reason"]["message"], region));
    CHECK(contains(result["reason"]["message"], "640 x 360"));
  }
}

TEST_CASE("--channel looks at that colour alone") {
  const TemporaryFolder folder;
  const json green = one_result(folder, green_ruling_bmp(), {"--channel", "green"});
  CHECK(green.at("status") == "calibrated");
  const json red = one_result(folder, green_ruling_bmp(), {"--channel", "red"});
  CHECK(red.at("status") == "refused");
  const json blue = one_result(folder, green_ruling_bmp(), {"--channel", "blue"});
  CHECK(blue.at("status") == "refused");
}

TEST_CASE("a picture without a ruling is refused with exit 1, and the others are done") {
  const TemporaryFolder folder;
  write_file(folder / "1.bmp", blank_bmp());
  write_file(folder / "2.bmp", ruling_bmp());
  const Finished run = gradus({"calibrate", "1.bmp", "2.bmp", "--division", "10um"}, {folder.path(), false, ""});
  CHECK(run.exit_code == 1);
  CHECK(run.errors.empty());
  CHECK(contains(run.output, "1.bmp  refused: no-ruling: "));
  CHECK(contains(run.output, "1 calibrated, 1 refused.\n"));
}

#ifdef MICROGRAPH_PROGRAM
TEST_CASE("rendered scales give the factor of their truth") {
  const TemporaryFolder folder;
  REQUIRE(run({MICROGRAPH_PROGRAM, "--class", "tidy", "--seed", "1", "--count", "4", "--out", folder.path().string()})
              .exit_code == 0);
  const json results = results_of({folder.path().string()});
  REQUIRE(results.size() == 4);
  for (const json& result : results) {
    const std::filesystem::path image = result.at("image").get<std::string>();
    CAPTURE(image.string());
    REQUIRE(result.at("status") == "calibrated");
    const json truth = json::parse(read_file(std::filesystem::path(image).replace_extension(".json")));
    const double pitch = truth.at("axes").at(0).at("mean_pitch_px");
    CHECK(within(result["um_per_pixel"]["value"], 10.0 / pitch, tolerance_of(result)));
  }
}
#endif

}  // namespace
}  // namespace cli_test
