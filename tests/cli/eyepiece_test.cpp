// gradus calibrate --reticle: pictures through the eyepiece whose truth is known by the way they were made.
#include <cmath>
#include <filesystem>

#include "documents.h"
#include "json_schema.h"
#include "scenes.h"

namespace cli_test {
namespace {

using nlohmann::json;

constexpr double kRelativeTolerance = 5e-4;  // a quarter of what docs/performance.md calls right

// 120 divisions of 7 pixels above 80 of 10 pixels, zero lines together: seven reticle divisions are ten of 10 um.
const Scale kMicrometer{35.3, 7.0, 121, 90.0};
const Scale kReticle{35.3, 10.0, 81, 280.0};

json one_result(const std::string& bytes, std::vector<std::string> options) {
  const TemporaryFolder folder;
  write_file(folder / "eyepiece.bmp", bytes);
  options.insert(options.begin(), (folder / "eyepiece.bmp").string());
  const json results = results_of(options);
  REQUIRE(results.size() == 1);
  INFO(results[0].dump());
  return results[0];
}

std::string refusal(const std::string& bytes, const std::vector<std::string>& options) {
  const json result = one_result(bytes, options);
  return result.at("status") == "refused" ? result.at("reason").at("code").get<std::string>() : result.dump();
}

TEST_CASE(
    "seven reticle divisions on ten of the micrometer are 14.29 um each, with the coincidences an eye would read") {
  const json result = one_result(scales_bmp({kMicrometer, kReticle}), {"--reticle", "80"});
  REQUIRE(result.at("status") == "calibrated");
  const json& division = result["um_per_division"];
  const double expected = 100.0 / 7.0;
  CHECK(within(division["value"], expected, kRelativeTolerance * expected));
  CHECK(within(division["value"], expected, 2.0 * division["expanded_uncertainty"].get<double>()));
  CHECK(division["budget_complete"] == false);
  CHECK(within(result["um_per_pixel"]["value"], 10.0 / 7.0, kRelativeTolerance * 10.0 / 7.0));
  REQUIRE(result["axes"].size() == 2);
  CHECK(result["axes"][0]["division_um"] == 10.0);
  CHECK(result["axes"][1]["division_um"] == division["value"]);
  CHECK(within(result["axes"][1]["graduations"], 81.0, 0.0));
  std::vector<int> read;
  for (const json& pair : division["coincidences"]) {
    CHECK(pair["reticle"].get<int>() * 10 == pair["micrometer"].get<int>() * 7);
    read.push_back(pair["reticle"]);
  }
  CHECK(read == std::vector<int>{0, 7, 14, 21, 28, 35, 42, 49, 56, 63, 70, 77});
}

TEST_CASE("the document of a reticle keeps to its schema and the CSV has its columns") {
  const TemporaryFolder folder;
  write_file(folder / "eyepiece.bmp", scales_bmp({kMicrometer, kReticle}));
  write_file(folder / "one.bmp", ruling_bmp());
  const Finished run =
      gradus({"calibrate", "eyepiece.bmp", "one.bmp", "--division", "10um", "--reticle", "80", "--division-uncertainty",
              "0.1 %", "--json", "out.json", "--csv", "out.csv", "--pictures", "seen"},
             {folder.path(), false, ""});
  CHECK(run.exit_code == 1);
  CHECK(run.errors.empty());
  const json document = json::parse(read_file(folder / "out.json"));
  for (const std::string& violation : schema_violations(json::parse(read_file(CALIBRATION_SCHEMA)), document))
    FAIL_CHECK(violation);
  CHECK(document["results"][0]["um_per_division"]["budget_complete"] == true);
  const auto rows = lines_of(read_file(folder / "out.csv"));
  REQUIRE(rows.size() == 3);
  CHECK(rows[0].ends_with(",um_per_division,expanded_uncertainty_um_per_division,coverage_factor_of_division"));
  CHECK(contains(rows[1], ",14.28"));
  CHECK(rows[2].ends_with(",,,"));
  CHECK(contains(run.output, "eyepiece.bmp  14.28"));
  CHECK(contains(run.output, "0=0 7=10 14=20"));
  CHECK(contains(run.output, "refused: one-scale"));
  CHECK(std::filesystem::exists(folder / "seen/eyepiece.bmp.png"));
  CHECK(std::filesystem::exists(folder / "seen/one.bmp.png"));
}

TEST_CASE("which scale is the reticle is counted or said, and never guessed") {
  const std::string alike = scales_bmp({{35.3, 7.0, 101, 90.0}, {35.3, 8.0, 101, 280.0}});
  CHECK(refusal(alike, {"--reticle", "100"}) == "which-reticle");
  const auto factor = [&](const char* word) {
    const json result = one_result(alike, {"--reticle", "100", "--reticle-is", word});
    return result.at("um_per_division").at("value").get<double>();
  };
  CHECK(within(factor("coarser"), 80.0 / 7.0, kRelativeTolerance * 80.0 / 7.0));
  CHECK(within(factor("lower"), 80.0 / 7.0, kRelativeTolerance * 80.0 / 7.0));
  CHECK(within(factor("finer"), 70.0 / 8.0, kRelativeTolerance * 70.0 / 8.0));
  CHECK(within(factor("upper"), 70.0 / 8.0, kRelativeTolerance * 70.0 / 8.0));
  // 80 and 120 divisions, both seen whole: neither is a reticle of 100.
  CHECK(refusal(scales_bmp({kMicrometer, kReticle}), {"--reticle", "100"}) == "which-reticle");
}

TEST_CASE("how many divisions the micrometer has tells the reticle beside a micrometer in part") {
  // The micrometer's lines 0 to 73 of 200 are in the picture, the reticle's 80 divisions are all there.
  const std::string part = scales_bmp({{35.3, 12.0, 201, 90.0}, kReticle});
  CHECK(refusal(part, {"--reticle", "80"}) == "which-reticle");
  CHECK(refusal(part, {"--reticle", "80", "--divisions", "80"}) == "which-reticle");
  const json refused = one_result(part, {"--reticle", "80"});
  CHECK(contains(refused["reason"]["message"].get<std::string>(), "--divisions"));
  const json result = one_result(part, {"--reticle", "80", "--divisions", "200"});
  REQUIRE(result.at("status") == "calibrated");
  CHECK(within(result["um_per_division"]["value"], 100.0 / 12.0, kRelativeTolerance * 100.0 / 12.0));
  CHECK(within(result["axes"][1]["graduations"], 81.0, 0.0));
}

TEST_CASE("a picture with one scale or with three is refused, and so is a region with one of two") {
  CHECK(refusal(ruling_bmp(), {"--reticle", "100"}) == "one-scale");
  CHECK(refusal(blank_bmp(), {"--reticle", "100"}) == "no-ruling");
  const std::string three = scales_bmp({{35.3, 7.0, 121, 20.0}, {35.3, 10.0, 81, 180.0}, {35.3, 8.3, 101, 350.0}});
  CHECK(refusal(three, {"--reticle", "80"}) == "several-scales");
  CHECK(refusal(three, {"--reticle", "80", "--region", "0,10,920,140"}) == "one-scale");
  const json two = one_result(three, {"--reticle", "80", "--region", "0,10,920,310"});
  REQUIRE(two.at("status") == "calibrated");
  CHECK(within(two["um_per_division"]["value"], 100.0 / 7.0, kRelativeTolerance * 100.0 / 7.0));
}

TEST_CASE("scales of one pitch are read where their lines are not in line, and the refusal says so where they are") {
  const Scale upper{35.3, 8.0, 101, 90.0};
  const json refused =
      one_result(scales_bmp({upper, {35.3, 8.0, 101, 280.0}}), {"--reticle", "100", "--reticle-is", "lower"});
  REQUIRE(refused.at("status") == "refused");
  CHECK(refused["reason"]["code"] == "one-scale");
  CHECK(contains(refused["reason"]["message"].get<std::string>(), "move the slide by part of a division"));
  const json read =
      one_result(scales_bmp({upper, {38.7, 8.0, 101, 280.0}}), {"--reticle", "100", "--reticle-is", "lower"});
  REQUIRE(read.at("status") == "calibrated");
  CHECK(within(read["um_per_division"]["value"], 10.0, kRelativeTolerance * 10.0));
}

const std::string kRoom = R"(schema = 1
[room]
name = "wool room"
temperature = { value = "21 degC", limits = "2 degC" }
[[scale]]
name = "SM-A"
division = "10um"
divisions = 120
calibrated = 2025-03-04
recalibrate_by = 2028-03-04
expanded_uncertainty = "0.3um"
CORRECTIONS
[[setup]]
name = "eyepiece-7x"
scale = "SM-A"
kind = "reticle"
objective = { magnification = 7, aperture = 0.2 }
reticle_pitch = "100um"
reticle_divisions = 80
budget = { field = "0.1 %", refocusing = "0.05 %" }
[[setup]]
name = "camera-10x"
images = ["10x/*"]
scale = "SM-A"
)";

struct EyepieceRoom {
  TemporaryFolder folder;
  explicit EyepieceRoom(const std::string& corrections) {
    std::string text = kRoom;
    text.replace(text.find("CORRECTIONS"), std::string("CORRECTIONS").size(), corrections);
    write_file(folder / "lab.toml", text);
    write_file(folder / "eyepiece.bmp", scales_bmp({kMicrometer, kReticle}));
  }
  Finished run(std::vector<std::string> arguments) const { return gradus(arguments, {folder.path(), false, ""}); }
  Finished calibrate(std::vector<std::string> more) const {
    for (const char* first : {"eyepiece-7x", "--setup", "lab.toml", "--lab", "eyepiece.bmp", "calibrate"})
      more.insert(more.begin(), first);
    return run(more);
  }
  json division() const {
    const Finished finished = calibrate({"--reticle", "80", "--json", "-", "--at", "2026-02-28T09:30:00Z"});
    INFO(finished.errors);
    REQUIRE(finished.exit_code == 0);
    return json::parse(finished.output).at("results").at(0).at("um_per_division");
  }
};

TEST_CASE("with a lab file the micrometer's corrections and the room's budget are in the reticle's division") {
  const json plain = EyepieceRoom("").division();
  const json longer = EyepieceRoom(R"(corrections = [["0um", "0um"], ["1200um", "1.2um"]])").division();
  CHECK(within(longer.at("value").get<double>() / plain.at("value").get<double>(), 1.001, 1e-6));
  CHECK(plain.at("budget_complete") == true);
  std::vector<std::string> names;
  for (const json& line : plain.at("budget")) names.push_back(line.at("component"));
  CHECK(names == std::vector<std::string>{"fit", "camera tilt", "reference scale", "temperature of the scale",
                                          "expansion of the scale", "slope of the slide", "field", "refocusing"});
  // 0.1 % of limits are 0.058 % as a standard uncertainty, and U twice that at least.
  CHECK(plain.at("expanded_uncertainty").get<double>() >
        2.0 * 0.001 / std::sqrt(3.0) * plain.at("value").get<double>());
}

// What a text says from `first` to the end of the line.
std::string line_from(const std::string& text, const std::string& first) {
  const std::size_t at = text.find(first);
  return at == std::string::npos ? "" : text.substr(at, text.find('\n', at) - at);
}

TEST_CASE("beneath the table stands what is in U and what is not, by name") {
  const EyepieceRoom room("");
  const std::string whole = room.calibrate({"--reticle", "80"}).output;
  CHECK(contains(line_from(whole, "In U: "), "reference scale"));
  CHECK(contains(line_from(whole, "In U: "), "refocusing"));
  CHECK(contains(whole, "The budget is complete"));
  CHECK(!contains(whole, "not in U"));

  std::string lab = read_file(room.folder / "lab.toml");
  const std::string focus = R"(, refocusing = "0.05 %")";
  lab.erase(lab.find(focus), focus.size());
  write_file(room.folder / "lab.toml", lab);
  const std::string without_focus = room.calibrate({"--reticle", "80"}).output;
  CHECK(contains(line_from(without_focus, "In U: "), "reference scale"));
  CHECK(line_from(without_focus, "Not stated and not in U: ") ==
        "Not stated and not in U: refocusing; state it in the lab file.");
  CHECK(!contains(without_focus, "The budget is complete"));

  const Finished no_lab = room.run({"calibrate", "eyepiece.bmp", "--reticle", "80", "--division", "10um"});
  CHECK(line_from(no_lab.output, "Not stated and not in U: ") ==
        "Not stated and not in U: reference scale; state it with --division-uncertainty.");
  CHECK(contains(no_lab.output, "with a lab file only"));
}

TEST_CASE("a picture is recorded as readings are, and lengths are measured with it") {
  const EyepieceRoom room("");
  const Finished recorded =
      room.calibrate({"--reticle", "80", "--record", "--operator", "A. Tester", "--at", "2026-02-28T09:30:00Z"});
  INFO(recorded.errors);
  CHECK(recorded.exit_code == 0);
  CHECK(contains(recorded.output, "Recorded as number 2."));
  CHECK(contains(room.run({"register", "list"}).output, "14.28"));
  CHECK(contains(room.run({"register", "show", "2"}).output, "eyepiece.bmp"));
  CHECK(room.run({"register", "verify"}).exit_code == 0);
  const Finished size = room.run({"reticle", "size", "7", "--setup", "eyepiece-7x", "--at", "2026-03-02T08:00:00Z"});
  INFO(size.errors);
  CHECK(contains(size.output, "7 divisions of eyepiece-7x are (100.0"));
  CHECK(contains(size.output, "record 2"));
}

TEST_CASE("the document has what the room makes of a reticle: record, flags, nominal worth") {
  const EyepieceRoom room("");
  const auto document = [&](std::vector<std::string> more, int exit_code) {
    more.insert(more.end(), {"--reticle", "80", "--json", "-", "--at", "2026-02-28T09:30:00Z"});
    const Finished finished = room.calibrate(more);
    INFO(finished.errors);
    CHECK(finished.exit_code == exit_code);
    const json whole = json::parse(finished.output);
    for (const std::string& violation : schema_violations(json::parse(read_file(CALIBRATION_SCHEMA)), whole))
      FAIL_CHECK(violation);
    return whole.at("results").at(0);
  };
  const json recorded = document({"--record", "--operator", "A. Tester"}, 0);
  CHECK(recorded.at("record").at("number") == 2);
  CHECK(recorded.at("record").at("hash").get<std::string>().size() == 64);
  CHECK(recorded.at("flags").empty());
  CHECK(recorded.at("registered").is_null());
  CHECK(recorded.at("due").is_null());
  CHECK(within(recorded.at("nominal_um_per_division"), 100.0 / 7.0, 1e-9));

  std::string lab = read_file(room.folder / "lab.toml");
  write_file(room.folder / "lab.toml", lab.replace(lab.find("\"100um\""), 7, "\"150um\""));
  const json flagged = document({}, 1);
  REQUIRE(flagged.at("flags").size() == 1);
  CHECK(flagged.at("flags")[0].at("code") == "wrong-optics");
  CHECK(flagged.at("record").is_null());
  CHECK(flagged.at("registered").at("record") == 2);
  const json no_lab = json::parse(
      room.run({"calibrate", "eyepiece.bmp", "--reticle", "80", "--division", "10um", "--json", "-"}).output);
  CHECK(!no_lab.at("results").at(0).contains("flags"));
}

TEST_CASE("the pages of a reticle from a picture name it and its hash, and no observer") {
  const EyepieceRoom room("");
  REQUIRE(room.calibrate({"--reticle", "80", "--record", "--operator", "A. Tester", "--at", "2026-02-28T09:30:00Z"})
              .exit_code == 0);
  const json exported = json::parse(room.run({"register", "export", "--json", "-"}).output);
  const json content = json::parse(exported.at("records").at(1).at("content").get<std::string>());
  const std::string hash = content.at("result").at("picture").at("sha256");
  CHECK(hash.size() == 64);
  const Finished reported =
      room.run({"report", "--lab", "lab.toml", "--report", "pages", "--at", "2026-03-01T08:00:00Z"});
  INFO(reported.errors);
  CHECK(reported.exit_code == 0);
  const std::string sheet = read_file(room.folder / "pages/calibration-eyepiece-7x.html");
  CHECK(contains(sheet, hash));
  CHECK(contains(sheet, "eyepiece.bmp"));
  CHECK(contains(sheet, "one picture through the eyepiece"));
  CHECK(!contains(sheet, "an observer read which"));
  CHECK(!contains(sheet, "eadings"));
  const std::string overview = read_file(room.folder / "pages/index.html");
  CHECK(contains(overview, "reticle, from a picture"));
  CHECK(!contains(overview, "read by eye"));
}

TEST_CASE("the sheet of a picture shows both scales, the same from the run and from its record") {
  const EyepieceRoom room("");
  REQUIRE(room.calibrate({"--reticle", "80", "--record", "--operator", "A. Tester", "--at", "2026-02-28T09:30:00Z",
                          "--report", "run"})
              .exit_code == 0);
  REQUIRE(room.run({"report", "--lab", "lab.toml", "--report", "pages", "--at", "2026-02-28T09:30:00Z"}).exit_code ==
          0);
  const std::string sheet = read_file(room.folder / "run/calibration-eyepiece-7x.html");
  CHECK(contains(sheet, "121 lines, 7.000\u202Fpx apart"));
  CHECK(contains(sheet, "81 lines, 10.000\u202Fpx apart"));
  CHECK(contains(sheet, "src=\"calibration-eyepiece-7x-1.jpg\""));
  CHECK(contains(sheet, "121 of the micrometer, 81 of the reticle, green and numbered with r"));
  for (const char* file : {"calibration-eyepiece-7x.html", "calibration-eyepiece-7x-1.jpg", "index.html"}) {
    CAPTURE(file);
    CHECK(read_file(room.folder / "run" / file) == read_file(room.folder / "pages" / file));
  }
  write_file(room.folder / "eyepiece.bmp", ruling_bmp());  // another picture is not shown for it
  REQUIRE(room.run({"report", "--lab", "lab.toml", "--report", "later"}).exit_code == 0);
  CHECK(contains(read_file(room.folder / "later/calibration-eyepiece-7x.html"), "another SHA-256"));

  write_file(room.folder / "eyepiece.bmp", scales_bmp({kMicrometer, kReticle}));
  const Finished free = room.run({"calibrate", "eyepiece.bmp", "--reticle", "80", "--division", "10um",
                                  "--division-uncertainty", "0.1 %", "--report", "free", "--embed"});
  CHECK(free.exit_code == 0);
  const std::string alone = read_file(room.folder / "free/calibration-eyepiece-bmp.html");
  CHECK(contains(alone, "µm per division"));
  CHECK(contains(alone, "src=\"data:image/jpeg;base64,"));
  CHECK(contains(alone, "0.1\u202F% of any length (k = 2)"));
}

TEST_CASE("a picture of a reticle goes to a set-up of that reticle, one at a time") {
  const EyepieceRoom room("");
  const auto errors = [&](std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), {"calibrate", "eyepiece.bmp", "--lab", "lab.toml"});
    const Finished finished = room.run(arguments);
    CHECK(finished.exit_code == 2);
    return finished.errors;
  };
  CHECK(contains(errors({"--reticle", "80"}), "--setup NAME"));
  CHECK(contains(errors({"--reticle", "80", "--setup", "camera-10x"}), "is of a camera"));
  CHECK(contains(errors({"--reticle", "100", "--setup", "eyepiece-7x"}), "has 80 divisions, --reticle says 100"));
  CHECK(contains(errors({"--reticle", "80", "--setup", "eyepiece-7x", "--divisions", "100"}),
                 "leave them out with --lab"));
  // As of a camera its factor would be thrown away.
  CHECK(contains(errors({"--setup", "eyepiece-7x"}), "'eyepiece-7x' is of a reticle; add --reticle 80"));
  CHECK(contains(errors({"--setup", "eyepiece-7x", "--record", "--operator", "A. Tester"}), "add --reticle 80"));
  CHECK(!std::filesystem::exists(room.folder / "register.sqlite"));
  write_file(room.folder / "more.bmp", ruling_bmp());
  CHECK(
      contains(errors({"more.bmp", "--reticle", "80", "--setup", "eyepiece-7x", "--record", "--operator", "A. Tester"}),
               "one image"));
  CHECK(contains(errors({"more.bmp", "--reticle", "80", "--setup", "eyepiece-7x", "--report", "pages"}), "one image"));
}

TEST_CASE("options that do not go together are bad usage") {
  const auto errors = [](std::vector<std::string> options) {
    for (const char* first : {"10um", "--division", "x.bmp", "calibrate"}) options.insert(options.begin(), first);
    const Finished run = gradus(options);
    CHECK(run.exit_code == 2);
    return run.errors;
  };
  CHECK(contains(errors({"--reticle-is", "finer"}), "--reticle N"));
  CHECK(contains(errors({"--divisions", "100"}), "--divisions goes with --reticle N"));
  CHECK(contains(errors({"--reticle", "100", "--reticle-is", "thicker"}), "finer"));
  CHECK(contains(errors({"--reticle", "1"}), "--reticle"));
  CHECK(contains(errors({"--reticle", "100", "--expect", "1um/px"}), "--expect"));
}

}  // namespace
}  // namespace cli_test
