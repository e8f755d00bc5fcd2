// gradus reticle: readings by eye, their mistakes, the register, lengths and the card.
#include <filesystem>
#include <fstream>

#include "json_schema.h"
#include "rooms.h"

namespace cli_test {
namespace {

using nlohmann::json;

const std::string kEyepieceRoom = R"(schema = 1
[room]
name = "wool room"
temperature = { value = "21 degC", limits = "2 degC" }
[[scale]]
name = "SM-A"
division = "10um"
divisions = 100
calibrated = 2025-03-04
recalibrate_by = 2028-03-04
expanded_uncertainty = "0.15um"
[[setup]]
name = "eyepiece-10x"
scale = "SM-A"
kind = "reticle"
microscope = "stand 1"
objective = { magnification = 10, aperture = 0.25 }
reticle_pitch = "100um"
reticle_divisions = 100
recalibrate_every = "365 d"
budget = { field = "0.1 %", refocusing = "0.05 %" }
[[setup]]
name = "stereo-1x"
scale = "SM-A"
kind = "reticle"
microscope = "stereo"
zoom = 1
zoom_setting = "0.5 %"
[[setup]]
name = "stereo-2x"
scale = "SM-A"
kind = "reticle"
microscope = "stereo"
zoom = 2
[[setup]]
name = "camera-10x"
images = ["10x/*"]
scale = "SM-A"
)";

struct Room {
  TemporaryFolder folder;
  Room() { write_file(folder / "lab.toml", kEyepieceRoom); }
  Finished reticle(std::vector<std::string> arguments) const {
    arguments.insert(arguments.begin(), "reticle");
    return gradus(arguments, {folder.path(), false, ""});
  }
  Finished record(const std::string& setup, std::vector<std::string> readings) const {
    std::vector<std::string> arguments = {"--setup", setup, "--record", "--operator", "A. Tester", "--at", kDay};
    arguments.insert(arguments.end(), readings.begin(), readings.end());
    return reticle(arguments);
  }
  void record_all() const {
    for (const auto& [setup, readings] :
         {std::pair<std::string, std::vector<std::string>>{"eyepiece-10x", {"0=0", "49=50", "98=100"}},
          {"stereo-1x", {"0=0", "5=50", "10=100"}},
          {"stereo-2x", {"0=0", "10=50", "20=100"}}}) {
      const Finished run = record(setup, readings);
      INFO(run.errors);
      REQUIRE(run.exit_code == 0);
    }
  }
};

Finished quick(std::vector<std::string> arguments) {
  arguments.insert(arguments.begin(), {"reticle", "--division", "10um"});
  return gradus(arguments);
}

json document_of(std::vector<std::string> arguments) {
  arguments.insert(arguments.end(), {"--json", "-", "--quiet"});
  return json::parse(quick(arguments).output);
}

void check_valid(const json& document, const char* schema = RETICLE_SCHEMA) {
  for (const std::string& violation : schema_violations(json::parse(read_file(schema)), document))
    FAIL_CHECK(violation);
}

// Exit 2 or 1 with one message that has these words, and nothing on standard output; after exit 1 the table says the
// same of what was refused, and no more.
void check_refused(const std::vector<std::string>& arguments, int exit_code, const std::string& words) {
  const Finished run = quick(arguments);
  CAPTURE(words);
  INFO(run.errors);
  CHECK(run.exit_code == exit_code);
  CHECK(contains(run.errors, words));
  const std::string called = "gradus: ";
  REQUIRE(run.errors.starts_with(called));
  CHECK(lines_of(run.errors).size() == 1);
  CHECK(run.output == (exit_code == 1 ? "refused: " + run.errors.substr(called.size()) : ""));
}

TEST_CASE("three readings make a factor with budget, residuals and the next reading") {
  const Finished run = quick({"0=0", "33=34", "97=100"});
  CHECK(run.exit_code == 0);
  CHECK(contains(run.output, "One reticle division is (10.3"));
  CHECK(contains(run.output, "33=34"));
  CHECK(contains(run.output, "reference scale"));
  CHECK(contains(run.output, "not stated"));
  CHECK(contains(run.errors, "not stated and not in U: reference scale"));
  const json document = document_of({"0=0", "33=34", "97=100"});
  check_valid(document);
  const json& result = document["results"][0];
  CHECK(result["status"] == "calibrated");
  CHECK(within(result["um_per_division"]["value"], 10.309, 0.005));
  CHECK(within(result["um_per_division"]["expanded_uncertainty"],
               2.0 * result["um_per_division"]["reading_uncertainty"].get<double>(), 1e-12));
  CHECK(result["readings"].size() == 3);
}

TEST_CASE("a stated scale makes the budget of readings complete, and its lines sum up to U") {
  const json result = document_of({"--division-uncertainty", "0.2 %", "0=0", "33=34", "97=100"})["results"][0];
  CHECK(result["um_per_division"]["budget_complete"] == true);
  double squares = 0.0;
  for (const json& line : result["budget"]) squares += std::pow(line["contribution_um_per_division"].get<double>(), 2);
  CHECK(within(result["um_per_division"]["expanded_uncertainty"],
               result["um_per_division"]["coverage_factor"].get<double>() * std::sqrt(squares), 1e-12));
  CHECK_FALSE(warned_of(result, "budget-incomplete"));
}

TEST_CASE("options of reading change U") {
  const auto u = [](std::vector<std::string> more) {
    more.insert(more.end(), {"0=0", "97=100"});
    return document_of(more)["results"][0]["um_per_division"]["expanded_uncertainty"].get<double>();
  };
  CHECK(u({"--line-width", "4um"}) > 2.0 * u({}));
  CHECK(u({"--coincidence", "0.1um"}) < 0.5 * u({}));
  CHECK(u({"--parallax", "0.1"}) > 1.5 * u({}));
  const auto estimated = [](const std::string& limits) {
    return document_of({"--estimate", limits, "0=0", "97=99.5"})["results"][0]["um_per_division"]["reading_uncertainty"]
        .get<double>();
  };
  CHECK(estimated("0.3") > 2.0 * estimated("0.1"));
}

TEST_CASE("readings that cannot be used are told with cause and next step") {
  check_refused({"0=0"}, 1, "one reading tells no length; add the one at the zero lines");
  check_refused({"0=0", "0=0"}, 1, "is there twice");
  check_refused({"0=0", "33=34", "33=35"}, 1, "two places");
  check_refused({"0=0", "33=34", "97=30"}, 1, "from 33=34 to 97=30");
  check_refused({"0=0", "33=34", "97=101"}, 1, "contradict each other");
  check_refused({"--reticle", "90", "0=0", "97=100"}, 1, "beyond the reticle, which has 90 divisions");
  check_refused({"--divisions", "99", "0=0", "97=100"}, 1, "beyond the micrometer, which has 99 divisions");
  check_refused({"0=0", "33,5=34"}, 2, "decimal point is a point");
  check_refused({"0=0", "33=340um"}, 2, "has a unit");
  check_refused({"0=0", "3334"}, 2, "is no reading");
  check_refused({"0=0", "a=34"}, 2, "no number of divisions");
  check_refused({"0=0", "=34"}, 2, "no number of divisions");
  check_refused({"0=0", "nan=34"}, 2, "is no number of divisions");
  check_refused({"0=0", "97=inf"}, 2, "is no number of divisions");
  check_refused({"--parallax", "nan", "0=0", "97=100"}, 2, "is no number of divisions");
  check_refused({"0=0", "33.25=34", "33.25=34.375"}, 1, "the readings 33.25=34 and 33.25=34.375 give one");
  check_refused({"0=0", "33.0=34", "97.125=30"}, 1, "from 33.0=34 to 97.125=30");
  check_refused({}, 2, "there is no reading");
  check_refused({"--estimate", "0,1", "0=0", "97=100"}, 2, "decimal point");
  check_refused({"--coincidence", "0.1", "0=0", "97=100"}, 2, "unit");
  check_refused({"--record", "--operator", "A", "0=0", "97=100"}, 2, "--lab");
  check_refused({"--page", "x.html", "0=0", "97=100"}, 2, "--table");
  CHECK(gradus({"reticle", "0=0", "97=100"}).exit_code == 2);
}

TEST_CASE("refused readings are valid by the schema too, and a miscount is named") {
  const json refused = document_of({"0=0", "33=34", "97=30"});
  check_valid(refused);
  CHECK(refused["results"][0]["reason"]["code"] == "non-monotone");
  const json miscounted = document_of({"0=0", "33=34", "66=69", "97=100"});
  check_valid(miscounted);
  CHECK(warned_of(miscounted["results"][0], "miscounted"));
  CHECK(miscounted["results"][0]["readings"][2]["used"] == false);
}

TEST_CASE("readings from a CSV are those from arguments, and a wrong row is told with its line") {
  const TemporaryFolder folder;
  const std::string path = (folder / "readings.csv").string();
  write_file(path, "reticle,micrometer,series\n0,0,a\n33,34,a\n97,100,a\n0,10,b\n97,109.9,b\n");
  const json from_file = document_of({"--readings", path});
  const json from_arguments = document_of({"0=0", "33=34", "97=100", "/", "0=10", "97=109.9"});
  CHECK(from_file == from_arguments);
  const auto refused = [&](const std::string& text, const std::string& words) {
    write_file(path, text);
    check_refused({"--readings", path}, 2, words);
  };
  refused("reticle,micrometer\n0,0\n33,5,34\n", "line 3: 3 fields where the header names 2");
  refused("reticle,micrometer\n0,0\n33,34um\n", "line 3: '34um' has a unit");
  refused("reticle,stage\n0,0\n", "there is no column 'stage'");
  refused("0,0\n", "there is no column '0'");
  refused("reticle,micrometer\n", "holds no reading");
  refused("reticle,micrometer,reticle\n0,0,1\n97,100,98\n", "the column 'reticle' is there twice; name each once");
  refused("", "is empty");
  refused("reticle,micrometer,setup\n0,0,x\n97,100,x\n", "add --lab");
  check_refused({"--readings", (folder / "none.csv").string()}, 2, "there is no such file");
}

TEST_CASE("a set-up's readings are judged by its room, recorded and used for lengths") {
  const Room room;
  room.record_all();
  const json document =
      json::parse(room.reticle({"--setup", "eyepiece-10x", "0=0", "49=50", "98=100", "--json", "-"}).output);
  check_valid(document);
  const json& result = document["results"][0];
  CHECK(result["nominal_um_per_division"] == 10.0);
  CHECK(result["um_per_division"]["budget_complete"] == true);
  CHECK(result["registered"]["record"] == 2);  // after the lab file
  const Finished size = room.reticle({"size", "42.5", "--setup", "eyepiece-10x", "--at", kDay});
  CHECK(size.exit_code == 0);
  CHECK(contains(size.output, "42.5 divisions of eyepiece-10x are (433.7 ± "));
  CHECK(contains(size.output, "record 2 of 2026-02-28, scale SM-A"));
  CHECK(room.reticle({"size", "57.5", "15", "--setup", "eyepiece-10x", "--at", kDay}).output == size.output);
  const json length =
      json::parse(room.reticle({"size", "42.5", "--setup", "eyepiece-10x", "--at", kDay, "--json", "-"}).output);
  CHECK(within(length["length_um"]["value"], 42.5 * 1000.0 / 98.0, 0.05));
  check_valid(length, RETICLE_SIZE_SCHEMA);
  CHECK(contains(room.reticle({"size", "42.5", "--setup", "eyepiece-10x", "--at", "2027-03-01T00:00:00Z"}).errors,
                 "was due for calibration on 2027-02-28"));
  CHECK(contains(in_register(room.folder, {"list"}).output, "µm/div"));
  CHECK(in_register(room.folder, {"verify"}).exit_code == 0);
}

TEST_CASE("a length is held against limits with U as guard band") {
  const Room room;
  room.record_all();
  const auto verdict = [&](const std::string& limits) {
    const Finished run = room.reticle({"size", "10", "--setup", "eyepiece-10x", "--at", kDay, "--limits", limits});
    return std::pair(run.exit_code, run.output);
  };
  CHECK(verdict("95um,110um").first == 0);
  CHECK(contains(verdict("95um,110um").second, "Conforms"));
  CHECK(verdict("95um,102.5um").first == 1);
  CHECK(contains(verdict("95um,102.5um").second, "Undecided"));
  CHECK(contains(verdict("0.11mm,0.12mm").second, "Does not conform"));
  CHECK(room.reticle({"size", "10", "--setup", "eyepiece-10x", "--limits", "102um"}).exit_code == 2);
}

TEST_CASE("a zoom between calibrated settings is interpolated only when asked, and says what that adds") {
  const Room room;
  room.record_all();
  const Finished plain = room.reticle({"size", "10", "--setup", "stereo-1x", "--zoom", "1.5"});
  CHECK(plain.exit_code == 2);
  CHECK(contains(plain.errors, "there are 1, 2"));
  const Finished asked = room.reticle({"size", "10", "--setup", "stereo-1x", "--zoom", "1.5", "--interpolate"});
  CHECK(asked.exit_code == 0);
  CHECK(contains(asked.output, "Interpolated at zoom 1.5 between 1 and 2"));
  CHECK(contains(asked.output, "are (667"));
  CHECK(contains(room.reticle({"size", "10", "--setup", "stereo-1x", "--zoom", "2"}).output, "are (500"));
  CHECK(room.reticle({"size", "10", "--setup", "stereo-1x", "--zoom", "3", "--interpolate"}).exit_code == 2);
}

TEST_CASE("lengths need a calibration, a set-up of kind reticle and numbers") {
  const Room room;
  CHECK(contains(room.reticle({"size", "42.5", "--setup", "eyepiece-10x"}).errors, "holds no calibration"));
  room.record_all();
  CHECK(contains(room.reticle({"size", "42.5", "--setup", "camera-10x"}).errors, "of kind reticle"));
  CHECK(contains(room.reticle({"size", "42,5", "--setup", "eyepiece-10x"}).errors, "decimal point"));
  for (const char* zoom : {"nan", "inf", "0"}) {
    const Finished run = room.reticle({"size", "5", "--setup", "stereo-1x", "--zoom", zoom, "--interpolate"});
    CHECK(run.exit_code == 2);
    CHECK(contains(run.errors, "--zoom: must be a number above 0"));
  }
  CHECK(contains(room.reticle({"size", "nan", "--setup", "eyepiece-10x"}).errors, "is no number of divisions"));
  CHECK(room.reticle({"size", "5", "5", "--setup", "eyepiece-10x"}).exit_code == 2);
  CHECK(room.reticle({"--setup", "camera-10x", "0=0", "97=100"}).exit_code == 2);
  CHECK(contains(room.reticle({"--lab", "lab.toml", "0=0", "97=100"}).errors, "of which set-up"));
}

TEST_CASE("a factor off its nominal one is flagged and kept out of the register unless accepted") {
  const Room room;
  const Finished run = room.record("eyepiece-10x", {"0=0", "41=50", "82=100"});
  CHECK(run.exit_code == 1);
  CHECK(contains(run.errors, "suspect the wrong objective, zoom, reticle or division"));
  CHECK(contains(run.errors, "not recorded (wrong-optics)"));
  CHECK(room.record("eyepiece-10x", {"0=0", "41=50", "82=100", "--accept", "an odd reticle"}).exit_code == 0);
}

TEST_CASE("readings and options before size are told, not passed over") {
  const Room room;
  room.record_all();
  const std::string listed = in_register(room.folder, {"list"}).output;
  const std::vector<std::string> length = {"size", "5", "--setup", "eyepiece-10x", "--at", kDay};
  for (std::vector<std::string> before :
       {std::vector<std::string>{"--setup", "eyepiece-10x", "--record", "--operator", "A. Tester", "0=0", "97=100"},
        {"--lab", "lab.toml"},
        {"--quiet"},
        {"0=0"}}) {
    before.insert(before.end(), length.begin(), length.end());
    const Finished run = room.reticle(before);
    CHECK(run.exit_code == 2);
    CHECK(contains(run.errors, "stand behind size, which takes its own"));
    CHECK(run.output.empty());
  }
  CHECK(in_register(room.folder, {"list"}).output == listed);
}

TEST_CASE("an interpolated length warns of the calibrations it comes from") {
  const Room room;
  // stereo-2x is due first; neither budget is complete.
  write_file(room.folder / "lab.toml", with(kEyepieceRoom, "zoom = 2\n", "zoom = 2\nrecalibrate_every = \"30 d\"\n"));
  room.record_all();
  const Finished run = room.reticle(
      {"size", "10", "--setup", "stereo-1x", "--zoom", "1.5", "--interpolate", "--at", "2026-06-01T00:00:00Z"});
  CHECK(run.exit_code == 0);
  CHECK(contains(run.errors,
                 "stereo-1x (record 3): components that are not stated are not in U; gradus register show 3"));
  CHECK(contains(run.errors,
                 "stereo-2x (record 4): components that are not stated are not in U; gradus register show 4"));
  CHECK(contains(run.errors, "stereo-2x (record 4): was due for calibration on 2026-03-30"));
  CHECK_FALSE(contains(run.errors, "stereo-1x (record 3): was due"));
  CHECK(lines_of(run.errors).size() == 3);
  CHECK(in_register(room.folder, {"show", "4"}).exit_code == 0);
}

TEST_CASE("no parallax is said on the command line against the lab file") {
  const Room room;
  write_file(room.folder / "lab.toml",
             with(kEyepieceRoom, "reticle_divisions = 100", "reticle_divisions = 100\nparallax = 0.2"));
  const auto u = [&](std::vector<std::string> more) {
    more.insert(more.end(), {"--setup", "eyepiece-10x", "0=0", "49=50", "98=100", "--json", "-", "--quiet"});
    return json::parse(room.reticle(more).output)["results"][0]["um_per_division"]["reading_uncertainty"].get<double>();
  };
  const double stated = u({});
  CHECK(u({"--parallax", "0"}) < 0.5 * stated);
  CHECK(within(u({"--parallax", "0.2"}), stated, 1e-15));
}

TEST_CASE("interpolated and decided lengths are valid by their schema") {
  const Room room;
  room.record_all();
  const json length = json::parse(room.reticle({"size", "10", "--setup", "stereo-2x", "--zoom", "1.5", "--interpolate",
                                                "--limits", "1mm,2mm", "--json", "-"})
                                      .output);
  check_valid(length, RETICLE_SIZE_SCHEMA);
  CHECK(length["verdict"] == "does-not-conform");
  CHECK(length["record"].is_null());
  CHECK(warned_of(length, "zoom-setting"));  // stereo-2x does not state how well its zoom is set again
}

TEST_CASE("what the lab file says of a reticle is used: its divisions, its parallax") {
  const Room room;
  const auto result = [&](const std::string& keys) {
    write_file(room.folder / "lab.toml", with(kEyepieceRoom, "reticle_divisions = 100", keys));
    return json::parse(
        room.reticle({"--setup", "eyepiece-10x", "0=0", "49=50", "98=100", "--json", "-"}).output)["results"][0];
  };
  const auto u = [](const json& of) { return of["um_per_division"]["reading_uncertainty"].get<double>(); };
  const json plain = result("reticle_divisions = 100");
  CHECK(u(result("reticle_divisions = 100\nparallax = 0.2")) > 2.0 * u(plain));
  CHECK(result("reticle_divisions = 90")["reason"]["code"] == "beyond-scale");
}

TEST_CASE("a CSV with set-ups calibrates them all") {
  const Room room;
  write_file(room.folder / "r.csv",
             "setup,reticle,micrometer\nstereo-1x,0,0\nstereo-1x,10,100\nstereo-2x,0,0\nstereo-2x,20,100\n");
  const json document = json::parse(room.reticle({"--lab", "lab.toml", "--readings", "r.csv", "--json", "-"}).output);
  check_valid(document);
  REQUIRE(document["results"].size() == 2);
  CHECK(document["results"][1]["setup"] == "stereo-2x");
  // A slide that lies level within 1 degree shows 5e-5 less on average.
  CHECK(within(document["results"][1]["um_per_division"]["value"], 50.0 * (1.0 - 5e-5), 1e-3));
}

TEST_CASE("the card lists divisions 1 to 100 of every calibrated reticle, as text and as a page") {
  const Room room;
  room.record_all();
  const Finished card = room.reticle({"--table", "--at", kDay, "--page", "card.html"});
  CHECK(card.exit_code == 0);
  CHECK(contains(card.output, "wool room, 2026-02-28"));
  const auto lines = lines_of(card.output);
  CHECK(std::count_if(lines.begin(), lines.end(), [](const std::string& line) { return line.starts_with("100  "); }) ==
        1);
  CHECK(contains(card.output, "2027-02-28"));
  CHECK(contains(card.output, "SM-A"));
  const std::string page = read_file(room.folder / "card.html");
  CHECK(contains(page, "size:A5"));
  CHECK(contains(page, "eyepiece-10x"));
  CHECK(contains(page, "1020.4"));
  const Finished one = room.reticle({"--table", "--at", kDay, "--microscope", "stereo"});
  CHECK_FALSE(contains(one.output, "eyepiece-10x"));
  CHECK(contains(room.reticle({"--table", "--at", "2027-06-01T00:00:00Z"}).output, "2027-02-28 OVERDUE"));
  CHECK(room.reticle({"--table", "--microscope", "none"}).exit_code == 2);
  CHECK(room.reticle({"--table", "0=0", "97=100"}).exit_code == 2);
  CHECK(contains(room.reticle({"--table", "--microscope", "none"}).errors, "there are some on 'stand 1', 'stereo'"));
  CHECK(contains(room.reticle({"--table", "--parallax", "0"}).errors, "leave --parallax out"));
  CHECK(contains(room.reticle({"--table", "--estimate", "0.2"}).errors, "leave --estimate out"));
  CHECK(contains(room.reticle({"--table", "--operator", "A. Tester"}).errors, "leave --operator out"));
  CHECK(contains(room.reticle({"--table", "--at", "today"}).errors, "is no time in UTC"));
  const Finished quiet = room.reticle({"--table", "--quiet", "--at", kDay, "--page", "quiet.html"});
  CHECK(quiet.exit_code == 0);
  CHECK(quiet.output.empty());
  CHECK(read_file(room.folder / "quiet.html") == page);
}

TEST_CASE("names on the card's page are text, and the page may load nothing") {
  const Room room;
  write_file(room.folder / "lab.toml", with(kEyepieceRoom, "name = \"wool room\"", "name = \"<b>'wool'\u202E&\""));
  room.record_all();
  CHECK(room.reticle({"--table", "--quiet", "--at", kDay, "--page", "card.html"}).exit_code == 0);
  const std::string page = read_file(room.folder / "card.html");
  CHECK(contains(page, "&lt;b&gt;&#39;wool&#39;[U+202E]&amp;"));
  CHECK_FALSE(contains(page, "\u202E"));
  CHECK(contains(page, "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'"));
}

TEST_CASE("a reticle's set-up has its sheet and the room its card, both linked from the overview") {
  const Room room;
  room.record_all();
  const Finished run =
      gradus({"report", "--lab", "lab.toml", "--report", "pages", "--at", kDay}, {room.folder.path(), false, ""});
  INFO(run.errors);
  REQUIRE(run.exit_code == 0);
  const std::string sheet = read_file(room.folder / "pages/calibration-eyepiece-10x.html");
  for (const char* part :
       {"µm per division", "49=50", "Readings", "reference scale", "Signatures", "id=\"history-t\""}) {
    CAPTURE(part);
    CHECK(contains(sheet, part));
  }
  const std::string overview = read_file(room.folder / "pages/index.html");
  CHECK(contains(overview, "href=\"calibration-eyepiece-10x.html\""));
  CHECK(contains(overview, "µm/div"));
  CHECK(contains(overview, "href=\"card.html\""));
  CHECK(contains(read_file(room.folder / "pages/card.html"), "href=\"index.html\""));
}

TEST_CASE("--report makes the sheet of the readings, without a lab file too, and the same bytes each time") {
  const TemporaryFolder folder;
  const auto run = [&](const std::string& pages, std::vector<std::string> more) {
    std::vector<std::string> arguments = {"reticle", "--division", "10um", "--division-uncertainty",
                                          "0.05 %",  "--reticle",  "100",  "--report",
                                          pages,     "--at",       kDay,   "0=0",
                                          "64=66"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Finished finished = gradus(arguments, {folder.path(), false, ""});
    INFO(finished.errors);
    CHECK(finished.exit_code == 0);
    return read_file(folder / (pages + "/calibration-eyepiece-reticle.html"));
  };
  const std::string sheet = run("pages", {"97=100"});
  for (const char* part :
       {"10.310\u202Fµm per division", "U = 0.010", "100 divisions", "0.05\u202F% of any length (k = 2)", "64=66",
        "\u22120.05", "id=\"readings-t\"", "without a lab file", "No traceability can be claimed", "Not examined",
        "which readings by eye cannot tell", "Calibrated by: name, date, signature", "2026-02-28, 09:30 UTC"}) {
    CAPTURE(part);
    CHECK(contains(sheet, part));
  }
  CHECK(run("again", {"97=100"}) == sheet);
  CHECK(contains(run("warned", {}), "two readings"));
  CHECK(contains(run("comma", {"97=100", "--decimal-comma"}), "10,310\u202Fµm per division"));
  CHECK(contains(read_file(folder / "pages/index.html"), "href=\"calibration-eyepiece-reticle.html\""));
}

TEST_CASE("with a lab file the sheet of the run is the one that gradus report makes of its record") {
  const Room room;
  room.record_all();
  const auto run = [&](std::vector<std::string> more) {
    more.insert(more.begin(), {"--setup", "eyepiece-10x", "--at", kDay, "0=0", "49=50", "98=100"});
    return room.reticle(more);
  };
  REQUIRE(run({"--report", "tried"}).exit_code == 0);
  const std::string tried = read_file(room.folder / "tried/calibration-eyepiece-10x.html");
  CHECK(contains(tried, "none: this result was not recorded"));
  CHECK(contains(tried, "SM-A"));
  // The other set-ups of the room keep their pages, or have none yet.
  CHECK(!std::filesystem::exists(room.folder / "tried/calibration-stereo-1x.html"));
  CHECK(contains(read_file(room.folder / "tried/index.html"), "stereo-1x"));
  REQUIRE(run({"--report", "run", "--record", "--operator", "A. Tester"}).exit_code == 0);
  REQUIRE(gradus({"report", "--lab", "lab.toml", "--report", "pages", "--at", kDay}, {room.folder.path(), false, ""})
              .exit_code == 0);
  for (const char* page : {"calibration-eyepiece-10x.html", "card.html", "index.html"}) {
    CAPTURE(page);
    // The overview links the sheets that are in its folder.
    if (page != std::string("index.html"))
      CHECK(read_file(room.folder / "run" / page) == read_file(room.folder / "pages" / page));
    CHECK(std::filesystem::exists(room.folder / "run" / page));
  }
}

TEST_CASE("a sheet of readings is refused what it cannot have, and refused readings leave none") {
  const Room room;
  const auto problem = [&](std::vector<std::string> arguments) {
    const Finished finished = room.reticle(arguments);
    CHECK(finished.exit_code == 2);
    return finished.errors;
  };
  CHECK(contains(problem({"--division", "10um", "0=0", "97=100", "--report", "p", "--embed"}), "have no pictures"));
  CHECK(contains(problem({"--division", "10um", "0=0", "97=100", "--pdf"}), "add --report DIR"));
  CHECK(contains(problem({"--table", "--report", "p"}), "leave --report out"));
  write_file(room.folder / "taken", "a file");
  CHECK(contains(problem({"--division", "10um", "0=0", "97=100", "--report", "taken"}), "choose another for --report"));
  CHECK(!std::filesystem::exists(room.folder / "p"));
  const Finished refused = room.reticle({"--division", "10um", "0=0", "--report", "r", "--at", kDay});
  CHECK(refused.exit_code == 1);
  CHECK(contains(read_file(room.folder / "r/index.html"), "one reading tells no length"));
  CHECK(!std::filesystem::exists(room.folder / "r/calibration-eyepiece-reticle.html"));
}

TEST_CASE("a card without a set-up of kind reticle tells how to write one") {
  const Room room;
  write_file(room.folder / "lab.toml",
             kEyepieceRoom.substr(0, kEyepieceRoom.find("[[setup]]")) +
                 "[[setup]]\nname = \"camera-10x\"\nimages = [\"10x/*\"]\nscale = \"SM-A\"\n");
  const Finished run = room.reticle({"--table"});
  CHECK(run.exit_code == 2);
  CHECK(contains(run.errors, "write kind = \"reticle\" for one read by eye"));
}

TEST_CASE("the codes of the reticle's schema are those of the page on formats") {
  const json schema = json::parse(read_file(RETICLE_SCHEMA));
  const std::string page = read_file(FORMATS_PAGE);
  for (const auto& [list, heading] :
       {std::pair<json, std::string>{schema["$defs"]["refused"]["properties"]["reason"]["properties"]["code"]["enum"],
                                     "### Why readings were refused"},
        {schema["$defs"]["warnings"]["items"]["properties"]["code"]["enum"], "### Warnings of readings"}}) {
    const std::size_t begin = page.find(heading);
    REQUIRE(begin != std::string::npos);
    const std::string section = page.substr(begin, page.find("\n#", begin + 1) - begin);
    CHECK(static_cast<std::size_t>(std::count(section.begin(), section.end(), '\n')) >= list.size());
    for (const json& code : list) CHECK(contains(section, "| `" + code.get<std::string>() + "` |"));
  }
}

}  // namespace
}  // namespace cli_test
