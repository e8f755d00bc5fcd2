// Outputs appear whole or not at all, and where they cannot, that is told before the work is done.
#include <filesystem>
#include <regex>

#include "documents.h"
#include "scenes.h"

namespace cli_test {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

struct Room {
  TemporaryFolder folder;
  Surroundings there{folder.path(), false, ""};
  Room() { write_file(folder / "a.bmp", ruling_bmp()); }
  Finished calibrate(std::vector<std::string> options) const {
    options.insert(options.begin(), {"calibrate", "a.bmp", "--division", "10um"});
    return gradus(options, there);
  }
};

void check_refused_output(const Finished& run) {
  CAPTURE(run.errors);
  CHECK(run.exit_code == 2);
  CHECK(run.output.empty());
  CHECK(lines_of(run.errors).size() == 1);
}

std::size_t entries(const fs::path& folder) {
  return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

TEST_CASE("an output that cannot be written is told at once and leaves no file") {
  const Room room;
  write_file(room.folder / "file", "");
  check_refused_output(room.calibrate({"--json", "nowhere/out.json"}));
  check_refused_output(room.calibrate({"--csv", "nowhere/out.csv"}));
  check_refused_output(room.calibrate({"--json", "file/out.json"}));
  check_refused_output(room.calibrate({"--json", "."}));
  check_refused_output(room.calibrate({"--pictures", "file"}));
  check_refused_output(room.calibrate({"--json", "x", "--csv", "x"}));
  check_refused_output(room.calibrate({"--json", "-", "--csv", "-"}));
  CHECK(entries(room.folder.path()) == 2);
}

TEST_CASE("an image is never overwritten by a result") {
  const Room room;
  const std::string before = read_file(room.folder / "a.bmp");
  check_refused_output(room.calibrate({"--json", "a.bmp"}));
  check_refused_output(room.calibrate({"--csv", "./a.bmp"}));
  CHECK(read_file(room.folder / "a.bmp") == before);
}

TEST_CASE("a full device is exit 2") {
  if (!fs::exists("/dev/full")) return;
  const Room room;
  const Finished run = room.calibrate({"--json", "/dev/full"});
  CHECK(run.exit_code == 2);
  CHECK(contains(run.errors, "/dev/full"));
  CHECK(fs::is_character_file("/dev/full"));
}

TEST_CASE("files hold what standard output would") {
  const Room room;
  CHECK(room.calibrate({"--json", "out.json", "--csv", "out.csv"}).exit_code == 0);
  CHECK(room.calibrate({"--json", "-"}).output == read_file(room.folder / "out.json"));
  CHECK(room.calibrate({"--csv", "-"}).output == read_file(room.folder / "out.csv"));
  CHECK(entries(room.folder.path()) == 3);
}

TEST_CASE("what stood in an output before is replaced whole") {
  const Room room;
  write_file(room.folder / "out.json", std::string(100000, 'x'));
  CHECK(room.calibrate({"--json", "out.json"}).exit_code == 0);
  CHECK(json::parse(read_file(room.folder / "out.json")).at("schema") == "gradus/calibration/1");
}

TEST_CASE("with --quiet only errors and what was asked for are said") {
  const Room room;
  const Finished silent = room.calibrate({"--quiet", "--expect", "0.069um/px"});
  CHECK(silent.exit_code == 0);
  CHECK(silent.output.empty());
  CHECK(silent.errors.empty());
  CHECK(contains(room.calibrate({"--quiet", "--json", "-"}).output, "gradus/calibration/1"));
  CHECK(contains(gradus({"calibrate", "missing.png", "--division", "10um", "--quiet"}, room.there).errors,
                 "missing.png"));
}

TEST_CASE("no progress is shown where standard error is no terminal") {
  const Room room;
  write_file(room.folder / "b.bmp", ruling_bmp());
  CHECK(gradus({"calibrate", "a.bmp", "b.bmp", "--division", "10um"}, room.there).errors.empty());
}

TEST_CASE("the CSV has a documented header and as many fields in every row") {
  const Room room;
  write_file(room.folder / "b.bmp", blank_bmp());
  const Finished run = gradus({"calibrate", "a.bmp", "b.bmp", "--division", "10um", "--csv", "-"}, room.there);
  const auto lines = lines_of(run.output);
  REQUIRE(lines.size() == 3);
  CHECK(lines[0].starts_with("image,status,um_per_pixel,expanded_uncertainty_um_per_pixel,coverage_factor,"));
  const auto commas = std::count(lines[0].begin(), lines[0].end(), ',');
  CHECK(std::count(lines[1].begin(), lines[1].end(), ',') == commas);
  CHECK(lines[1].starts_with("a.bmp,calibrated,0.6896"));
  const std::string blank = std::regex_replace(lines[2], std::regex("\"[^\"]*\""), "");
  CHECK(std::count(blank.begin(), blank.end(), ',') == commas);
  CHECK(contains(lines[2], ",no-ruling,"));
}

TEST_CASE("numbers of the CSV are those of the JSON, unrounded") {
  const Room room;
  const json result = results_of({"a.bmp"}, room.there)[0];
  const std::string row = lines_of(room.calibrate({"--csv", "-"}).output).at(1);
  std::vector<std::string> fields;
  std::size_t start = 0;
  for (std::size_t comma = 0; (comma = row.find(',', start)) != std::string::npos; start = comma + 1)
    fields.push_back(row.substr(start, comma - start));
  REQUIRE(fields.size() > 13);
  CHECK(std::stod(fields[2]) == result["um_per_pixel"]["value"].get<double>());
  CHECK(std::stod(fields[3]) == result["um_per_pixel"]["expanded_uncertainty"].get<double>());
  CHECK(std::stod(fields[12]) == result["axes"][0]["pitch_px"].get<double>());
}

TEST_CASE("the bytes do not follow the locale") {
  const Room room;
  const std::string plain = room.calibrate({"--json", "-"}).output;
  for (const char* locale : {"de_DE.UTF-8", "C.UTF-8", "fr_FR.UTF-8"})
    CHECK(gradus({"calibrate", "a.bmp", "--division", "10um", "--json", "-"}, {room.folder.path(), false, locale})
              .output == plain);
}

}  // namespace
}  // namespace cli_test
