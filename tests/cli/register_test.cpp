// gradus register, and what calibrate --record writes into it.
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "rooms.h"
#include "tamper.h"

namespace cli_test {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

json exported(const TemporaryFolder& folder) {
  return json::parse(in_register(folder, {"export", "--json", "-"}).output).at("records");
}

TEST_CASE("nothing is kept without --record, and with it every set-up with all that redoes the sum") {
  const TemporaryFolder folder;
  furnish(folder);
  calibrate_room(folder);
  CHECK_FALSE(fs::exists(folder / "register.sqlite"));
  REQUIRE(record_room(folder).exit_code == 0);
  const json records = exported(folder);
  REQUIRE(records.size() == 3);
  CHECK(records[0]["kind"] == "lab-file");
  CHECK(records[0]["content"] == kRoom);
  CHECK(records[1]["setup"] == "wool-10x");
  CHECK(records[1]["about"] == 1);
  CHECK(records[1]["made_at"] == kDay);
  CHECK(records[1]["made_by"] == "A. Tester");
  const json content = json::parse(records[1]["content"].get<std::string>());
  CHECK(contains(content["tool"], GRADUS_VERSION));
  REQUIRE(content["inputs"].size() == 2);
  CHECK(content["inputs"][0]["sha256"].get<std::string>().size() == 64);
  // The sum done again: ten micrometres over the pitch, glass of unknown kind (4.8e-6 /K) 1 K above its certificate,
  // the mean cosine of a slope within 1 degree, and the weights.
  const double degree = std::acos(-1.0) / 180.0;
  double sum = 0.0;
  for (std::size_t i = 0; i < 2; ++i) {
    const double pitch = content["inputs"][i]["rulings"][0]["pitch_px"],
                 weight = content["result"]["shots"][i]["weight"];
    sum += weight * 10.0 / pitch * (1.0 + 4.8e-6) * std::sin(degree) / degree;
  }
  CHECK(within(content["result"]["um_per_pixel"]["value"], sum, 1e-12));
  CHECK(contains(in_register(folder, {"show", "2"}).output, "sha256"));
  CHECK(contains(in_register(folder, {"list"}).output, "wool-14x"));
}

TEST_CASE("a flagged set-up is left out and named, unless it is accepted for a reason that is recorded") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "pixel_pitch = \"6.9um\"", "pixel_pitch = \"6.4um\""));
  const Finished left_out = record_room(folder);
  CHECK(left_out.exit_code == 1);
  CHECK(contains(left_out.errors, "wool-10x: not recorded (off-nominal)"));
  CHECK(exported(folder).size() == 2);
  const Finished accepted = record_room(folder, {"--accept", "old relay lens, measured twice"});
  CHECK(accepted.exit_code == 0);
  CHECK(contains(exported(folder).dump(), "old relay lens, measured twice"));
}

TEST_CASE("a new calibration supersedes the one before, and is held against it") {
  const TemporaryFolder folder;
  furnish(folder);
  record_room(folder);
  write_file(folder / "10x/a.bmp", scale_of_pitch(14.7, 1));
  write_file(folder / "10x/b.bmp", scale_of_pitch(14.7, 2));
  const Finished changed = record_room(folder);
  CHECK(changed.exit_code == 1);
  CHECK(contains(changed.errors, "beyond-tolerance"));
  record_room(folder, {"--accept", "the relay lens was exchanged"});
  write_file(folder / "lab.toml", with(kRoom, "tolerance =", "recalibrate_every = \"30 d\"\ntolerance ="));
  record_room(folder, {"--accept", "the interval is now 30 days"});
  const Finished history = in_register(folder, {"history", "wool-10x"});
  CHECK(contains(history.output, "superseded by"));
  CHECK(contains(history.output, "current, due 2026-03-30"));
  CHECK(in_register(folder, {"history", "none"}).exit_code == 2);
}

TEST_CASE("a calibration of an earlier day than the record before it says so when it is recorded") {
  const TemporaryFolder folder;
  furnish(folder);
  const Finished first = record_room(folder);
  CHECK(!contains(first.errors, "is dated"));
  CHECK(fs::exists(folder / "register.sqlite"));
  CHECK_FALSE(fs::exists(folder / "register.sqlite-journal"));
  const Finished same_day =
      calibrate_room(folder, {"--record", "--operator", "A. Tester", "--at", "2026-02-28T08:00:00Z"});
  CHECK(!contains(same_day.errors, "is dated"));
  const Finished earlier =
      calibrate_room(folder, {"--record", "--operator", "A. Tester", "--at", "2026-02-20T08:00:00Z"});
  CHECK(contains(earlier.errors, "wool-10x: record 8 is dated 2026-02-20T08:00:00Z, before record 7 of"));
  CHECK(contains(in_register(folder, {"verify"}).errors, "record 8 is dated"));
}

TEST_CASE("a record altered by hand is found and named") {
  const TemporaryFolder folder;
  furnish(folder);
  record_room(folder);
  const Finished sound = in_register(folder, {"verify"});
  CHECK(sound.exit_code == 0);
  const std::string head = sound.output.substr(sound.output.find("head    ") + 8, 64);
  CHECK(in_register(folder, {"verify", "--head", head}).exit_code == 0);
  CHECK(in_register(folder, {"verify", "--head", head.substr(0, 16)}).exit_code == 0);  // the foot of a sheet
  CHECK(in_register(folder, {"verify", "--head", std::string(64, 'a')}).exit_code == 1);
  for (const std::string& slip : {head.substr(0, 15), head + "0", "g" + head.substr(1)}) {
    const Finished refused = in_register(folder, {"verify", "--head", slip});
    CHECK(refused.exit_code == 2);
    CHECK(contains(refused.errors, "is no hash"));
  }
  tamper(folder,
         "DROP TRIGGER record_never_changes; UPDATE record SET content = replace(content, '0.68', '0.69') WHERE "
         "number = 2");
  const Finished altered = in_register(folder, {"verify"});
  CHECK(altered.exit_code == 1);
  CHECK(contains(altered.errors, "record 2 is not as it was written"));
  const Finished history = in_register(folder, {"history", "wool-10x"});
  CHECK(history.exit_code == 1);
  CHECK(history.output.empty());
  CHECK(contains(history.errors, "no chart is drawn from it"));
}

TEST_CASE("withdrawing takes a reason, and an export goes into another register whole") {
  const TemporaryFolder folder;
  furnish(folder);
  record_room(folder);
  CHECK(in_register(folder, {"withdraw", "2", "--operator", "B"}).exit_code == 2);
  for (const std::string option : {"--reason", "--operator"}) {
    const std::string other = option == "--reason" ? "--operator" : "--reason";
    const Finished blank = in_register(folder, {"withdraw", "2", option, " ", other, "B"});
    CHECK(blank.exit_code == 2);
    CHECK(contains(blank.errors, option + ": is blank"));
  }
  REQUIRE(
      in_register(folder, {"withdraw", "2", "--reason", "wrong slide", "--operator", "B", "--at", kDay}).exit_code ==
      0);
  CHECK(contains(in_register(folder, {"show", "2"}).output, "withdrawn by 4"));
  CHECK(in_register(folder, {"withdraw", "2", "--reason", "again", "--operator", "B"}).exit_code == 2);
  in_register(folder, {"export", "--json", "all.json", "--csv", "all.csv"});
  CHECK(lines_of(read_file(folder / "all.csv")).size() == 5);
  REQUIRE(in_register(folder, {"import", "all.json", "--register", "copy.sqlite"}).exit_code == 0);
  const Finished copy = in_register(folder, {"verify", "--register", "copy.sqlite"});
  CHECK(contains(copy.output, "all 4 records"));
  write_file(folder / "altered.json", with(read_file(folder / "all.json"), "wrong slide", "fine slide"));
  const Finished altered = in_register(folder, {"import", "altered.json", "--register", "third.sqlite"});
  CHECK(altered.exit_code == 2);
  CHECK(contains(altered.errors, "record 4"));
  write_file(folder / "nonsense.json", "{\"schema\": 1}");
  CHECK(in_register(folder, {"import", "nonsense.json"}).exit_code == 2);
}

TEST_CASE("a register that is none, is cut off or is of the future stops before any image is read") {
  const TemporaryFolder folder;
  furnish(folder);
  record_room(folder);
  const std::string whole = read_file(folder / "register.sqlite");
  const auto stopped = [&](const std::string& words) {
    const std::string before = read_file(folder / "register.sqlite");
    const Finished run = record_room(folder);
    INFO(run.errors);
    CHECK(run.exit_code == 2);
    CHECK(contains(run.errors, words));
    CHECK(read_file(folder / "register.sqlite") == before);
  };
  write_file(folder / "register.sqlite", "no register");
  stopped("is not a register");
  write_file(folder / "register.sqlite", "");
  stopped("is empty");
  write_file(folder / "register.sqlite", whole.substr(0, whole.size() / 2));
  stopped("damaged");
  write_file(folder / "register.sqlite", whole);
  tamper(folder, "PRAGMA user_version = 7");
  stopped("newer gradus");
}

TEST_CASE("a folder that may not be written to keeps the results, and says that nothing was recorded") {
  const TemporaryFolder folder;
  furnish(folder);
  const Finished run = gradus({"calibrate", ".", "--recursive", "--lab", "lab.toml", "--record", "--operator", "A"},
                              {folder.path(), true, ""});
  CHECK(run.exit_code == 2);
  CHECK(contains(run.errors, "nothing was written"));
  CHECK(contains(run.output, "wool-10x"));
}

TEST_CASE("two programs that record at once both succeed") {
  const TemporaryFolder folder;
  furnish(folder);
  const pid_t other = fork();
  if (other == 0) _exit(record_room(folder).exit_code);
  const Finished own = record_room(folder);
  int status = 0;
  waitpid(other, &status, 0);
  CHECK(own.exit_code == 0);
  CHECK(WEXITSTATUS(status) == 0);
  CHECK(in_register(folder, {"verify"}).exit_code == 0);
  CHECK(contains(in_register(folder, {"list"}).output, "7 records"));  // lab file, 2 + 2 calibrations, 2 superseded
}

TEST_CASE("new-lab writes a file that is valid as it stands, and never over another") {
  const TemporaryFolder folder;
  REQUIRE(in_register(folder, {"new-lab"}).exit_code == 0);
  write_file(folder / "10x/a.bmp", scale_of_pitch(14.5, 1));
  const Finished run = calibrate_room(folder, {"--setup", "wool-10x"});
  CHECK(contains(run.output, "1280 x 960"));  // the picture is of another size than the file's example
  CHECK_FALSE(contains(run.errors, "lab.toml"));
  const std::string before = read_file(folder / "lab.toml");
  CHECK(in_register(folder, {"new-lab"}).exit_code == 2);
  CHECK(read_file(folder / "lab.toml") == before);
}

TEST_CASE("the first lab file and the page on formats explain every key that there is") {
  const TemporaryFolder folder;
  REQUIRE(in_register(folder, {"new-lab", "new.toml"}).exit_code == 0);
  const std::string unknown = "zzzzzzzzzzzz = 1\n";
  write_file(folder / "lab.toml",
             with(with(kRoom, "division =", unknown + "division ="), "images = [\"10x", unknown + "images = [\"10x"));
  const std::string page = read_file(FORMATS_PAGE), first = read_file(folder / "new.toml");
  // What is not known is answered with all that is.
  std::size_t keys = 0;
  for (const std::string& line : lines_of(calibrate_room(folder).errors)) {
    const std::size_t at = line.find("known are ");
    REQUIRE(at != std::string::npos);
    std::istringstream list(line.substr(at + std::string("known are ").size()));
    for (std::string key; std::getline(list >> std::ws, key, ','); ++keys) {
      CAPTURE(key);
      CHECK(contains(page, "`" + key + "`"));
      CHECK(contains(first, key + " = "));
    }
  }
  CHECK(keys > 40);
}

TEST_CASE("advise tells which scale suits which set-up, and why another does not") {
  const TemporaryFolder folder;
  const std::string fine = "[[scale]]\nname = \"fine\"\ndivision = \"1um\"\ndivisions = 100\n";
  write_file(folder / "lab.toml", with(kRoom, "[[setup]]", fine + "[[setup]]"));
  const Finished run = in_register(folder, {"advise"});
  CHECK(contains(run.output, "suits, and is the one used"));
  CHECK(contains(run.output, "lines 1.4 px apart"));
  CHECK(contains(run.output, "state image_size"));
  const auto of_width = [&](const std::string& width) {
    const std::string room = with(kRoom, "divisions = 100\n", "divisions = 100\nline_width = \"" + width + "\"\n");
    write_file(folder / "lab.toml", room);
    return in_register(folder, {"advise"}).output;
  };
  // At an aperture of 0.25 0.61 lambda / NA is 1.34 um.
  CHECK(contains(of_width("2um"), "suits, and is the one used"));
  CHECK(contains(of_width("0.1um"), "IS USED, and does not suit: lines of 0.1 µm are less than a tenth"));
  CHECK(contains(of_width("6um"), "fill half a division"));
  CHECK(contains(of_width("30um"), "more than 20 times"));
  write_file(folder / "lab.toml", with(kRoom, "\"10um\"", "\"200um\""));
  const Finished coarse = in_register(folder, {"advise"});
  CHECK(coarse.exit_code == 1);
  CHECK(contains(coarse.output, "only 2 graduations"));
}

}  // namespace
}  // namespace cli_test
