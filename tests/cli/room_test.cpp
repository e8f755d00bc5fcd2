// gradus calibrate --lab: a room at once, and what is wrong with it.
#include <filesystem>

#include "json_schema.h"
#include "rooms.h"

namespace cli_test {
namespace {

using nlohmann::json;

json document_of(const TemporaryFolder& folder, std::vector<std::string> more = {}) {
  more.insert(more.end(), {"--json", "-"});
  return json::parse(calibrate_room(folder, more).output);
}

std::vector<std::string> codes(const json& list) {
  std::vector<std::string> found;
  for (const json& item : list) found.push_back(item.at("code"));
  return found;
}

bool flagged(const json& setup, const std::string& code) {
  const auto found = codes(setup.at("flags"));
  return std::find(found.begin(), found.end(), code) != found.end();
}

// Run with a lab file in which something is wrong: exit 2, and the words in its one message.
void check_refused(const std::string& lab, const std::string& words) {
  const TemporaryFolder folder;
  furnish(folder, lab);
  const Finished run = calibrate_room(folder);
  INFO(run.errors);
  CHECK(run.exit_code == 2);
  CHECK(run.output.empty());
  CHECK(contains(run.errors, "lab.toml: "));
  CHECK(contains(run.errors, words));
}

TEST_CASE("one command calibrates every set-up of the room") {
  const TemporaryFolder folder;
  furnish(folder);
  const json document = document_of(folder, {"--monte-carlo", "20000"});
  for (const std::string& violation : schema_violations(json::parse(read_file(CALIBRATION_SCHEMA)), document))
    FAIL_CHECK(violation);
  REQUIRE(document["results"].size() == 3);
  CHECK(document["results"][0]["setup"] == "wool-10x");
  REQUIRE(document["setups"].size() == 2);
  const json& setup = document["setups"][0];
  CHECK(setup["status"] == "calibrated");
  CHECK(within(setup["um_per_pixel"]["value"], 10.0 / 14.5, 1e-4));
  CHECK(within(setup["nominal_um_per_pixel"], 0.69, 1e-12));
  CHECK(setup["shots"].size() == 2);
  CHECK(setup["y"].is_null());
  CHECK(setup["um_per_pixel"]["budget_complete"] == false);
  CHECK(codes(setup["warnings"]) == std::vector<std::string>{"budget-incomplete"});
  // U holds the certificate at least: 0.15 um over the 42 or 43 divisions in view.
  CHECK(setup["um_per_pixel"]["expanded_uncertainty"] > 0.15 / 430.0 * 0.68);
  CHECK(setup["monte_carlo"]["trials"] == 20000);
}

TEST_CASE("the budget sums up to the uncertainty it is printed with") {
  const TemporaryFolder folder;
  furnish(folder);
  const json setup = document_of(folder)["setups"][0];
  double squares = 0.0;
  for (const json& line : setup["budget"])
    if (line["stated"]) squares += std::pow(line["contribution_um_per_pixel"].get<double>(), 2);
  const double k = setup["um_per_pixel"]["coverage_factor"];
  CHECK(within(setup["um_per_pixel"]["expanded_uncertainty"], k * std::sqrt(squares), 1e-12));
  const Finished table = calibrate_room(folder, {"--budget"});
  CHECK(contains(table.output, "Budget of wool-10x"));
  CHECK(contains(table.output, "not stated"));
}

TEST_CASE("an image of no set-up, of two, or of another size is refused and the others are done") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "[\"14x/*\"]", "[\"14x/*\", \"*_14x.bmp\"]"));
  write_file(folder / "other/c.bmp", scale_of_pitch(14.5, 4));
  write_file(folder / "10x/c_14x.bmp", scale_of_pitch(14.5, 4));
  Ruling small;
  small.width = 500;
  write_file(folder / "10x/small.bmp", ruling_bmp(small));
  const Finished run = calibrate_room(folder, {"--json", "-"});
  CHECK(run.exit_code == 1);
  const json document = json::parse(run.output);
  std::string reasons;
  for (const json& result : document["results"])
    if (result["status"] == "refused") reasons += result["reason"]["code"].get<std::string>() + " ";
  CHECK(reasons == "several-setups other-size no-setup ");
}

TEST_CASE("--setup takes every image for a shot of that set-up") {
  const TemporaryFolder folder;
  furnish(folder);
  const Finished run = gradus({"calibrate", "10x/a.bmp", "--lab", "lab.toml", "--setup", "wool-14x", "--json", "-"},
                              {folder.path(), false, ""});
  CHECK(json::parse(run.output)["results"][0]["setup"] == "wool-14x");
  CHECK_FALSE(contains(run.errors, "no shots"));  // the others were not asked for
  const Finished unknown =
      gradus({"calibrate", "10x/a.bmp", "--lab", "lab.toml", "--setup", "wool-15x"}, {folder.path(), false, ""});
  CHECK(unknown.exit_code == 2);
  CHECK(contains(unknown.errors, "wool-15x"));
}

TEST_CASE("a shot that fits another set-up better is called by that name and left out") {
  const TemporaryFolder folder;
  furnish(folder);
  write_file(folder / "10x/c.bmp", scale_of_pitch(20.0, 5));
  const json document = document_of(folder);
  const json& misplaced = document["results"][2];
  CHECK(warned_of(misplaced, "looks-like"));
  CHECK(contains(misplaced["warnings"].dump(), "looks like wool-14x"));
  CHECK(document["setups"][0]["shots"].size() == 2);
  CHECK(document["setups"][0]["status"] == "calibrated");
}

TEST_CASE("two set-ups that differ by less than the optics may are told apart once both are registered") {
  const TemporaryFolder folder;
  // A second stand whose factor is 2 % less.
  const std::string second =
      with(with(kRoom, "14x\"\n", "14x\"\ntolerance = \"0.5 %\"\n"), "magnification = 14", "magnification = 10.147");
  furnish(folder, second);
  write_file(folder / "14x/a.bmp", scale_of_pitch(14.8, 3));
  write_file(folder / "14x/b.bmp", scale_of_pitch(14.5, 4));
  // Nothing is registered: 2 % may be the optics'.
  CHECK_FALSE(warned_of(document_of(folder)["results"][3], "looks-like"));
  std::filesystem::remove(folder / "14x/b.bmp");
  REQUIRE(record_room(folder).exit_code == 0);
  write_file(folder / "14x/b.bmp", scale_of_pitch(14.5, 4));
  const json document = document_of(folder);
  CHECK(contains(document["results"][3]["warnings"].dump(), "looks like wool-10x"));
  CHECK(document["setups"][1]["status"] == "calibrated");
  CHECK(document["setups"][1]["shots"].size() == 1);
}

TEST_CASE("another set-up of a wider tolerance that fits no better is not named") {
  const TemporaryFolder folder;
  // 6 % off its own nominal factor, 9 % off the other's, which allows for 12 %.
  furnish(folder,
          with(with(kRoom, "pixel_pitch = \"6.9um\"", "pixel_pitch = \"6.5um\""),
               "magnification = 14, aperture = 0.25 }\npixel_pitch = \"7um\"",
               "magnification = 10, aperture = 0.25 }\npixel_pitch = \"7.55um\"\nobjective_tolerance = \"12 %\""));
  const json document = document_of(folder);
  CHECK_FALSE(warned_of(document["results"][0], "looks-like"));
  CHECK(flagged(document["setups"][0], "off-nominal"));
}

TEST_CASE("what the nominal factor contradicts is flagged, by more than 10 % as the wrong optics") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "pixel_pitch = \"6.9um\"", "pixel_pitch = \"6.4um\""));
  CHECK(flagged(document_of(folder)["setups"][0], "off-nominal"));
  CHECK(calibrate_room(folder).exit_code == 1);
  write_file(folder / "lab.toml", with(kRoom, "pixel_pitch = \"6.9um\"", "pixel_pitch = \"6um\""));
  CHECK(flagged(document_of(folder)["setups"][0], "wrong-optics"));
  write_file(folder / "lab.toml",
             with(kRoom, "pixel_pitch = \"6.9um\"", "pixel_pitch = \"6.4um\"\nobjective_tolerance = \"9 %\""));
  CHECK(document_of(folder)["setups"][0]["status"] == "calibrated");
}

TEST_CASE("certificates that ran out, or are not yet valid, are flagged by the day of the calibration") {
  const TemporaryFolder folder;
  furnish(folder);
  const auto setup_at = [&](const std::string& time) { return document_of(folder, {"--at", time})["setups"][0]; };
  CHECK(setup_at("2028-03-04T12:00:00Z")["flags"].empty());
  CHECK(flagged(setup_at("2028-03-05T12:00:00Z"), "certificate-overdue"));
  CHECK(flagged(setup_at("2025-03-03T12:00:00Z"), "certificate-not-yet-valid"));
}

TEST_CASE("an uncertainty beyond the tolerance is flagged") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "\"0.5 %\"", "\"0.01 %\""));
  CHECK(flagged(document_of(folder)["setups"][0], "uncertainty-beyond-tolerance"));
}

TEST_CASE("a set-up without shots is told") {
  const TemporaryFolder folder;
  furnish(folder);
  const Finished run = gradus({"calibrate", "10x", "--lab", "lab.toml"}, {folder.path(), false, ""});
  CHECK(contains(run.errors, "wool-14x: there are no shots"));
  CHECK(contains(run.output, "no shots"));
}

TEST_CASE("a lab file that cannot be used stops before any image is read") {
  check_refused(with(kRoom, "objective =", "objektive ="),
                "line 15: setup.wool-10x.objektive is not known here; was objective meant?");
  check_refused(with(kRoom, "\"wool-14x\"", "\"wool-10x\""), "twice");
  check_refused(with(kRoom, "[\"14x/*\"]", "[\"10x/*\"]"), "overlaps");
  check_refused(with(kRoom, "2028-03-04", "2024-03-04"), "line 9: scale.SM-A.recalibrate_by is not after");
  check_refused(with(kRoom, "\"10um\"", "10"), "unit");
  check_refused(with(kRoom, "\"0.15um\"", "\"0.15um\"\ncorrections = [[\"0um\", \"0um\"], [\"0um\", \"0um\"]]"),
                "out of order");
  check_refused(std::string(5'000'000, 'x'), "larger than 1 MB");
  check_refused(std::string(900'000, '['), "line 1");
  const TemporaryFolder folder;
  const Finished missing = gradus({"calibrate", ".", "--lab", "none.toml"}, {folder.path(), false, ""});
  CHECK(missing.exit_code == 2);
  CHECK(contains(missing.errors, "new-lab"));
}

TEST_CASE("options that do not go together are told before anything is read") {
  const auto refused = [](std::vector<std::string> arguments, const std::string& words) {
    arguments.insert(arguments.begin(), {"calibrate", "none.png"});
    const Finished run = gradus(arguments);
    INFO(run.errors);
    CHECK(run.exit_code == 2);
    CHECK(contains(run.errors, words));
  };
  refused({}, "--division or --lab");
  refused({"--division", "10um", "--record"}, "need a --lab");
  refused({"--lab", "x.toml", "--division", "10um"}, "leave them out");
  refused({"--lab", "x.toml", "--record"}, "--operator");
  refused({"--lab", "x.toml", "--record", "--operator", " "}, "--operator: is blank");
  refused({"--lab", "x.toml", "--accept", "because"}, "--record");
  refused({"--lab", "x.toml", "--at", "today"}, "2026-02-28T09:30:00Z");
  refused({"--lab", "x.toml", "--centre", "a.png"}, "--centre");
  refused({"--lab", "x.toml", "--numbers-run", "a.png=north"}, "right, left, up, down");
}

}  // namespace
}  // namespace cli_test
