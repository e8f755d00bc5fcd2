// gradus check: verdicts, outputs, what is skipped and recorded, and what goes wrong.
#include <sqlite3.h>

#include <filesystem>
#include <fstream>

#include "check_image.h"
#include "json_schema.h"
#include "rooms.h"
#include "specimens.h"
#include "support/picture_files.h"

namespace cli_test {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

const std::string kNextDay = "2026-03-01T08:00:00Z";

Finished check(const TemporaryFolder& folder, std::vector<std::string> arguments, const std::string& at = kNextDay) {
  arguments.insert(arguments.begin(), {"check"});
  for (const std::string& more :
       {std::string("--lab"), std::string("lab.toml"), std::string("--recursive"), std::string("--at"), at})
    arguments.push_back(more);
  return gradus(arguments, {folder.path(), false, ""});
}

std::string numbered(std::string before, int number, const std::string& after) {
  return before.append(std::to_string(number)).append(after);
}

// A recorded room and a folder "today" of its set-ups.
void furnish_and_record(const TemporaryFolder& folder, const std::string& lab = kRoom) {
  furnish(folder, lab);
  REQUIRE(record_room(folder).exit_code == 0);
}

json checked(const TemporaryFolder& folder, std::vector<std::string> arguments = {}, const std::string& at = kNextDay) {
  arguments.insert(arguments.begin(), {"today", "--json", "-"});
  return json::parse(check(folder, arguments, at).output);
}

json result_of(const json& document, const std::string& image) {
  for (const json& result : document.at("results"))
    if (result.at("image") == image) return result;
  FAIL("there is no result of " << image);
  return {};
}

bool has_evidence(const json& result, const std::string& code) {
  for (const json& one : result.at("evidence"))
    if (one.at("code") == code) return true;
  return false;
}

// A grey picture of nothing in particular, 640 x 360, with a resolution in pixels per metre; 0: none.
void write_sample(const fs::path& path, int per_metre, int width = 640, int height = 360) {
  fs::create_directories(path.parent_path());
  picture_files::PngKind kind;
  kind.pixels_per_metre = per_metre;
  picture_files::write_png_file(path.string(), picture_files::patterned(width, height, 1, 255), kind);
}

json history_schema() { return json::parse(read_file(HISTORY_SCHEMA)); }

void check_history(const json& history) {
  for (const std::string& violation : schema_violations(history_schema(), history)) FAIL_CHECK(violation);
}

TEST_CASE("unchanged, drifted, misfiled and half-size shots get their verdicts, and the document keeps to its schema") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  write_file(folder / "today/10x/drifted.bmp", scale_of_pitch(14.5 * 1.01, 12));
  write_file(folder / "today/10x/misfiled.bmp", scale_of_pitch(20.0, 13));
  Ruling half;
  half.width = 320, half.height = 180, half.pitch_px = 7.25;
  write_file(folder / "today/10x/half.bmp", ruling_bmp(half));
  const Finished finished = check(folder, {"today", "--json", "o.json", "--csv", "o.csv"});
  CHECK(finished.exit_code == 1);
  CHECK(contains(finished.output, "1 within, 1 drifted, 2 mismatch"));
  const json document = json::parse(read_file(folder / "o.json"));
  for (const std::string& violation : schema_violations(json::parse(read_file(CHECK_SCHEMA)), document))
    FAIL(violation);
  CHECK(result_of(document, "today/10x/same.bmp")["verdict"] == "within");
  const json drifted = result_of(document, "today/10x/drifted.bmp");
  CHECK(drifted["verdict"] == "drifted");
  CHECK(within(drifted["relative_change"], 1.0 / 1.01 - 1.0, 3e-4));
  CHECK(drifted["en"].get<double>() < -1.0);
  CHECK(drifted["looks_like"].is_null());
  const json misfiled = result_of(document, "today/10x/misfiled.bmp");
  CHECK(misfiled["verdict"] == "mismatch");
  CHECK(misfiled["looks_like"] == "wool-14x");
  const json resized = result_of(document, "today/10x/half.bmp");
  CHECK(resized["verdict"] == "mismatch");
  CHECK(resized["looks_like"] == "wool-10x");
  CHECK(resized["looks_like_times"] == 2.0);
  CHECK(lines_of(read_file(folder / "o.csv")).size() == 5);
  // A file of JSON is not changed by the number of threads.
  check(folder, {"today", "--json", "p.json", "--jobs", "1"});
  CHECK(read_file(folder / "o.json") == read_file(folder / "p.json"));
}

TEST_CASE("sample images are held against what their files say; without a word they are unverifiable") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  const int per_metre = static_cast<int>(1e6 / (10.0 / 14.5));
  write_sample(folder / "today/10x/stated.png", per_metre);
  write_sample(folder / "today/10x/silent.png", 0);
  write_sample(folder / "today/10x/printed.png", 2835);  // 72 dpi
  write_sample(folder / "today/10x/wrong.png", 2 * per_metre);
  write_sample(folder / "today/10x/half.png", 0, 320, 180);
  for (const bool tags_only : {false, true}) {
    const json document =
        checked(folder, tags_only ? std::vector<std::string>{"--tags-only"} : std::vector<std::string>{});
    CHECK(result_of(document, "today/10x/stated.png")["verdict"] == "within");
    CHECK(result_of(document, "today/10x/silent.png")["verdict"] == "unverifiable");
    CHECK(result_of(document, "today/10x/printed.png")["verdict"] == "unverifiable");
    CHECK(has_evidence(result_of(document, "today/10x/printed.png"), "resolution-ignored"));
    CHECK(result_of(document, "today/10x/wrong.png")["verdict"] == "mismatch");
    const json half = result_of(document, "today/10x/half.png");
    CHECK(half["verdict"] == "mismatch");
    CHECK(half["looks_like_times"] == 2.0);
    CHECK(half["relative_change"].is_null());
  }
}

TEST_CASE("unverifiable alone is exit 0, and 1 with --strict") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_sample(folder / "today/10x/silent.png", 0);
  const Finished plain = check(folder, {"today"});
  CHECK(plain.exit_code == 0);
  CHECK(contains(plain.output, "1 unverifiable"));
  CHECK(check(folder, {"today", "--strict"}).exit_code == 1);
}

TEST_CASE("--quiet prints the wrong ones alone, and nothing when all is well") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  const Finished well = check(folder, {"today", "--quiet"});
  CHECK(well.exit_code == 0);
  CHECK(well.output.empty());
  CHECK(well.errors.empty());
  write_file(folder / "today/10x/drifted.bmp", scale_of_pitch(14.5 * 1.01, 12));
  const Finished wrong = check(folder, {"today", "--quiet"});
  CHECK(wrong.exit_code == 1);
  CHECK(contains(wrong.output, "drifted  today/10x/drifted.bmp"));
  write_file(folder / "today/10x/misfiled.bmp", scale_of_pitch(20.0, 13));
  CHECK(contains(check(folder, {"today", "--quiet"}).output, "; looks like wool-14x\n"));
  CHECK_FALSE(contains(wrong.output, "same.bmp"));
}

TEST_CASE("recorded images are skipped while they are unchanged, save those found wrong") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  write_file(folder / "today/10x/wrong.bmp", scale_of_pitch(14.5 * 1.01, 12));
  const std::vector<std::string> record = {"--record", "--operator", "nightly job"};
  const json first = checked(folder, record);
  CHECK(first["skipped"] == 0);
  CHECK(first["setups"][0]["record"]["number"] == 4);
  const json second = checked(folder, record, "2026-03-02T08:00:00Z");
  CHECK(second["skipped"] == 1);
  REQUIRE(second["results"].size() == 1);
  CHECK(second["results"][0]["verdict"] == "drifted");
  CHECK(second["setups"][0]["record"].is_null());  // it is in the register already
  // Touched but the same is known by its hash; with other bytes it is looked at again.
  fs::last_write_time(folder / "today/10x/same.bmp", fs::file_time_type::clock::now() + std::chrono::hours(1));
  CHECK(checked(folder, {}, "2026-03-02T08:00:00Z")["skipped"] == 1);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 99));
  CHECK(checked(folder, {}, "2026-03-02T08:00:00Z")["skipped"] == 0);
  CHECK(checked(folder, {"--again"}, "2026-03-02T08:00:00Z")["results"].size() == 2);
  // A check of tags alone does not stand in for one of the pixels.
  write_sample(folder / "today/10x/sample.png", 0);
  CHECK(checked(folder, {"--tags-only", "--record", "--operator", "N"}, "2026-03-03T08:00:00Z")["skipped"] == 0);
  CHECK(checked(folder, {"--tags-only"}, "2026-03-03T08:00:00Z")["results"].size() == 1);
  CHECK(result_of(checked(folder, {}, "2026-03-03T08:00:00Z"), "today/10x/sample.png")["verdict"] == "unverifiable");
}

TEST_CASE("a drift names what rests on the set-up since its last good check; history shows shots, charts and change") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  const auto day = [](int number) { return numbered("2026-03-0", number, "T08:00:00Z"); };
  const std::vector<std::string> record = {"--record", "--operator", "N"};
  for (int i = 1; i <= 4; ++i) {
    write_file(folder / numbered("today/10x/", i, ".bmp"), scale_of_pitch(14.5, 20U + static_cast<unsigned>(i)));
    CHECK(checked(folder, record, day(i))["setups"][0]["affected"].empty());
  }
  for (int i = 5; i <= 8; ++i) {
    write_file(folder / numbered("today/10x/", i, ".bmp"),
               scale_of_pitch(14.5 * 1.004, 20U + static_cast<unsigned>(i)));
    const json document = checked(folder, record, day(i));
    CHECK(document["setups"][0]["last_good_check"] == day(4));
    CHECK_FALSE(document["setups"][0]["alerts"].empty());
  }
  const Finished text = in_register(folder, {"history", "wool-10x", "--json", "h.json", "--svg", "h.svg"});
  REQUIRE(text.exit_code == 0);
  CHECK(contains(text.output, "Alert:"));
  CHECK(contains(text.output, "between 2026-03-04 and 2026-03-05"));
  const json history = json::parse(read_file(folder / "h.json"));
  check_history(history);
  REQUIRE(history["shots"].size() == 8);
  CHECK(history["change"]["first_after"] == 5);
  CHECK(within(history["change"]["size"], 1.0 / 1.004 - 1.0, history["change"]["expanded_uncertainty"]));
  CHECK(history["chart"]["first_beyond"] == 5);
  CHECK(read_file(folder / "h.svg").starts_with("<svg "));
  const Finished based =
      in_register(folder, {"history", "wool-10x", "--base", "4", "--lambda", "0.3", "--width", "3", "--json", "-"});
  CHECK(based.exit_code == 0);
  const json other = json::parse(based.output);
  check_history(other);
  CHECK(other["chart"]["lambda"] == 0.3);
  CHECK(other["line_limit_um"].get<double>() > 0.0);
  CHECK(contains(in_register(folder, {"list"}).output, "1 within"));
  CHECK(in_register(folder, {"history", "wool-10x", "--lambda", "2"}).exit_code == 2);
  // The pages and the history take the base period that the lab file agrees on, and the budget until its shots are
  // there.
  for (const auto& [shots, words] : {std::pair<std::string, std::string>("4", "Limits from the first 4 shots"),
                                     {"40", "Limits from the uncertainty budget"}}) {
    std::string lab = read_file(folder / "lab.toml");
    lab.insert(lab.find("\nscale =", lab.find("[[setup]]")), "\ncheck_base = " + shots);
    write_file(folder / "based.toml", lab);
    REQUIRE(gradus({"report", "--lab", "based.toml", "--report", "pages"}, {folder.path(), false, ""}).exit_code == 0);
    CHECK(contains(read_file(folder / "pages/checks-wool-10x.html"), words));
    CHECK(contains(read_file(folder / "pages/checks-wool-10x.html"), "calibration line of the base period") ==
          (shots == "4"));
    CHECK(contains(in_register(folder, {"history", "wool-10x", "--lab", "based.toml"}).output, words));
  }
  // Without --lab it is the lab file beside the register; what is asked for goes first, and is not waited for.
  write_file(folder / "lab.toml", read_file(folder / "based.toml"));
  CHECK(contains(in_register(folder, {"history", "wool-10x"}).output, "Limits from the uncertainty budget"));
  CHECK(contains(in_register(folder, {"history", "wool-10x", "--base", "5"}).output, "Limits from the first 5 shots"));
  CHECK(contains(in_register(folder, {"history", "wool-10x", "--base", "20"}).output, "No chart"));
  write_file(folder / "lab.toml", "schema = 1\nnonsense = 2\n");
  const Finished spoilt = in_register(folder, {"history", "wool-10x"});
  CHECK(spoilt.exit_code == 2);
  CHECK(contains(spoilt.errors, "nonsense"));
  CHECK(in_register(folder, {"history", "wool-10x", "--lab", "nowhere.toml"}).exit_code == 2);
}

TEST_CASE("a measurement since the last good check is named by a drift, in the run that finds it and in those after") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  render(folder / "fibres/a.png", 640, 360, 24.0);
  REQUIRE(gradus({"measure", "fibres", "--setup", "wool-10x", "--at", "2026-02-28T12:00:00Z", "--record", "--operator",
                  "A. Tester", "--quiet"},
                 {folder.path(), false, ""})
              .exit_code == 0);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  write_file(folder / "today/10x/drifted.bmp", scale_of_pitch(14.5 * 1.01, 12));
  for (const std::string& at : {kNextDay, std::string("2026-03-02T08:00:00Z")}) {
    CAPTURE(at);
    const json affected = checked(folder, {"--record", "--operator", "N"}, at)["setups"][0]["affected"];
    REQUIRE(affected.size() == 1);
    CHECK(affected[0]["kind"] == "measurement");
  }
}

TEST_CASE("a drift with nothing recorded since the calibration and no good check names nothing") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/drifted.bmp", scale_of_pitch(14.5 * 1.01, 12));
  const json document = checked(folder);
  CHECK(document["setups"][0]["last_good_check"].is_null());
  CHECK(document["setups"][0]["affected"].empty());
}

TEST_CASE("what cannot be held against anything says why") {
  const TemporaryFolder folder;
  furnish(folder);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  const Finished none = check(folder, {"today"});
  CHECK(none.exit_code == 2);
  CHECK(contains(none.errors, "there is no register"));
  CHECK(contains(gradus({"check", ".", "--lab", "none.toml"}, {folder.path(), false, ""}).errors, "no such file"));
  REQUIRE(record_room(folder).exit_code == 0);
  CHECK(contains(check(folder, {"today", "--setup", "wool-99x"}).errors,
                 "no camera set-up 'wool-99x' in it (wool-10x, wool-14x)"));
  const Finished past = check(folder, {"today"}, "2026-02-27T08:00:00Z");
  CHECK(past.exit_code == 2);
  CHECK(contains(past.errors, "lies before the register's last record"));
  CHECK(check(folder, {"today", "--record"}).exit_code == 2);
  CHECK(check(folder, {"today", "--operator", "N"}).exit_code == 2);
  CHECK(check(folder, {"today", "--since", "yesterday"}).exit_code == 2);
  write_file(folder / "today/10x/cut.bmp", scale_of_pitch(14.5, 11).substr(0, 5000));
  write_file(folder / "today/lost/stray.bmp", scale_of_pitch(14.5, 11));
  const json document = checked(folder);
  CHECK(has_evidence(result_of(document, "today/10x/cut.bmp"), "unreadable"));
  CHECK(has_evidence(result_of(document, "today/lost/stray.bmp"), "no-setup"));
  CHECK(result_of(document, "today/lost/stray.bmp")["verdict"] == "unverifiable");
  CHECK(check(folder, {"today"}).exit_code == 1);
  CHECK(check(folder, {"today/10x/cut.bmp"}).exit_code == 2);
}

TEST_CASE("a path that leads nowhere is told, and is exit 2 when nothing else could be read") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  const Finished lost = check(folder, {"chekc/10x", "--quiet"});
  CHECK(lost.exit_code == 2);
  CHECK(contains(lost.errors, "chekc/10x: no such file; check the name"));
  CHECK(check(folder, {"today", "chekc/10x", "--quiet"}).exit_code == 1);
  const json document = checked(folder, {"chekc/10x"});
  CHECK(has_evidence(result_of(document, "chekc/10x"), "unreadable"));
  CHECK(result_of(document, "today/10x/same.bmp")["verdict"] == "within");
}

TEST_CASE("a check_region that reaches beyond the picture is told first, with what to put right") {
  const TemporaryFolder folder;
  furnish_and_record(folder, with(kRoom, "tolerance =", "check_region = [0, 300, 640, 100]\ntolerance ="));
  write_sample(folder / "today/10x/stated.png", static_cast<int>(1e6 / (10.0 / 14.5)));
  const json result = checked(folder)["results"][0];
  CHECK(result["verdict"] == "unverifiable");
  CHECK(result["evidence"][0]["code"] == "no-scale-found");
  CHECK(contains(result["evidence"][0]["message"], "put check_region of the lab file right"));
  const Finished table = check(folder, {"today"});
  CHECK(contains(table.output, "put check_region of the lab file right"));
  CHECK_FALSE(contains(table.output, "--region"));
}

// A sample with a bright bar of so many pixels, drawn over it near the lower right corner.
void write_with_bar(const fs::path& path, int length_px, int width = 640, int height = 360, int per_metre = 0) {
  fs::create_directories(path.parent_path());
  picture_files::Shape shape = picture_files::patterned(width, height, 1, 8);
  for (double& sample : shape.samples) sample += 130.0;  // a ground with a camera's noise
  const int top = height * 5 / 6, left = width * 5 / 8;
  for (int y = top; y < top + 6; ++y)
    for (int x = left; x < left + length_px; ++x) shape.samples[static_cast<std::size_t>(y) * width + x] = 255.0;
  picture_files::PngKind kind;
  kind.pixels_per_metre = per_metre;
  picture_files::write_png_file(path.string(), shape, kind);
}

TEST_CASE("a scale bar that the lab file tells of is held against the factor, and is missed where there is none") {
  const TemporaryFolder folder;
  // 100 µm are 145 pixels.
  const std::string bar = "scale_bar = { region = [380, 280, 250, 70], length = \"100um\" }\ntolerance =";
  furnish_and_record(folder, with(kRoom, "tolerance =", bar));
  const int per_metre = static_cast<int>(1e6 / (10.0 / 14.5));
  write_with_bar(folder / "today/10x/right.png", 145);
  write_with_bar(folder / "today/10x/other.png", 200);  // as the pictures of wool-14x have it
  write_with_bar(folder / "today/10x/half.png", 73, 320, 180);
  write_with_bar(folder / "today/10x/tagged.png", 200, 640, 360, per_metre);
  write_sample(folder / "today/10x/none.png", per_metre);
  const json document = checked(folder);
  for (const std::string& violation : schema_violations(json::parse(read_file(CHECK_SCHEMA)), document))
    FAIL_CHECK(violation);
  const json right = result_of(document, "today/10x/right.png");
  CHECK(right["verdict"] == "within");
  CHECK(has_evidence(right, "bar-agrees"));
  CHECK(within(right["scale_bar"]["length_px"], 145.0, 0.5));
  CHECK(within(right["scale_bar"]["um_per_pixel"], 100.0 / 145.0, 3e-3));
  const json other = result_of(document, "today/10x/other.png");
  CHECK(other["verdict"] == "mismatch");
  CHECK(has_evidence(other, "bar-differs"));
  CHECK(other["looks_like"] == "wool-14x");
  // The region goes with the size of the picture.
  const json half = result_of(document, "today/10x/half.png");
  CHECK(half["verdict"] == "mismatch");
  CHECK(has_evidence(half, "bar-differs"));
  CHECK(half["looks_like_times"] == 2.0);
  const json tagged = result_of(document, "today/10x/tagged.png");
  CHECK(tagged["verdict"] == "unverifiable");
  CHECK(has_evidence(tagged, "tags-contradict"));
  const json none = result_of(document, "today/10x/none.png");
  CHECK(none["verdict"] == "unverifiable");
  CHECK(has_evidence(none, "no-bar-found"));
  CHECK(none["scale_bar"].is_null());
  CHECK(checked(folder, {"--tags-only"})["results"][2]["scale_bar"].is_null());
}

TEST_CASE("a scale bar that is only half described is a mistake of the lab file") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "tolerance =", "scale_bar = { region = [380, 280, 0, 70] }\ntolerance ="));
  const Finished finished = check(folder, {"today"});
  CHECK(finished.exit_code == 2);
  CHECK(contains(finished.errors, "setup.wool-10x.scale_bar.region must be [left, top, width, height] in pixels"));
  CHECK(contains(finished.errors, "setup.wool-10x.scale_bar.length"));
}

TEST_CASE("a broken chain is refused before any image is read") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  sqlite3* database = nullptr;
  REQUIRE(sqlite3_open((folder / "register.sqlite").c_str(), &database) == SQLITE_OK);
  REQUIRE(sqlite3_exec(database, "DROP TRIGGER record_never_changes; UPDATE record SET made_by = 'B' WHERE number = 2",
                       nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(database);
  const Finished finished = check(folder, {"today"});
  CHECK(finished.exit_code == 2);
  CHECK(contains(finished.errors, "nothing is held against a register that was altered"));
  CHECK(finished.output.empty());
}

TEST_CASE("check shots by name, ruled lines in a corner, and a calibration that has run out") {
  const TemporaryFolder folder;
  const std::string lab =
      with(kRoom, "tolerance =", "check_images = [\"10x/scale-*\"]\nrecalibrate_every = \"30 d\"\ntolerance =");
  furnish_and_record(folder, lab);
  write_file(folder / "today/10x/scale-a.bmp", scale_of_pitch(14.5 * 1.01, 12));
  write_file(folder / "today/10x/scale-b.bmp", blank_bmp());
  write_file(folder / "today/10x/fibre.bmp", scale_of_pitch(14.5 * 1.01, 12));  // not declared: no scale is read
  write_sample(folder / "today/10x/stated.png", static_cast<int>(1e6 / (10.0 / 14.5)));
  const json document = checked(folder);
  CHECK(result_of(document, "today/10x/scale-a.bmp")["verdict"] == "drifted");
  CHECK(has_evidence(result_of(document, "today/10x/scale-b.bmp"), "no-scale-found"));
  CHECK(result_of(document, "today/10x/fibre.bmp")["verdict"] == "unverifiable");
  CHECK(result_of(document, "today/10x/stated.png")["verdict"] == "within");
  const json late = checked(folder, {}, "2026-04-15T08:00:00Z");
  CHECK(has_evidence(result_of(late, "today/10x/stated.png"), "calibration-overdue"));
  CHECK(result_of(late, "today/10x/stated.png")["verdict"] == "unverifiable");
}

TEST_CASE("a history without shots keeps to its schema, and the schema refuses what is no history") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  const json history = json::parse(in_register(folder, {"history", "wool-10x", "--json", "-"}).output);
  check_history(history);
  CHECK(history["chart"].is_null());
  const auto broken = [&](const std::string& pointer, const json& value) {
    json document = history;
    document[json::json_pointer(pointer)] = value;
    return !schema_violations(history_schema(), document).empty();
  };
  CHECK(broken("/schema", "gradus/history/2"));
  CHECK(broken("/calibration", 0));
  CHECK(broken("/chart", json{{"sigma", 1.0}}));
  CHECK(broken("/change", json{{"kind", "unheard-of"}}));
  CHECK(broken("/alerts", {{{"code", "unheard-of"}, {"message", "x"}}}));
  CHECK(broken("/surprise", 1));
}

TEST_CASE("--since leaves out what is older") {
  const TemporaryFolder folder;
  furnish_and_record(folder);
  write_file(folder / "today/10x/old.bmp", scale_of_pitch(14.5, 11));
  write_file(folder / "today/10x/new.bmp", scale_of_pitch(14.5, 12));
  fs::last_write_time(folder / "today/10x/old.bmp", fs::file_time_type::clock::now() - std::chrono::hours(24 * 400));
  CHECK(checked(folder)["results"].size() == 2);
  const auto half_a_year_ago = std::chrono::system_clock::now().time_since_epoch() - std::chrono::hours(24 * 183);
  const std::string since = gradus::utc_of(std::chrono::nanoseconds(half_a_year_ago).count()).substr(0, 10);
  CHECK(checked(folder, {"--since", since})["results"].size() == 1);
  CHECK(contains(check(folder, {"today", "--since", since}).output, "; 1 older than --since, left out."));
}

TEST_CASE("the list of codes in the formats page is the one of the schema") {
  const json schema = json::parse(read_file(CHECK_SCHEMA));
  const std::string page = read_file(FORMATS_PAGE);
  for (const char* list : {"evidence_code", "alert_code"})
    for (const json& code : schema["$defs"][list]["enum"]) {
      std::string quoted = code;
      quoted.insert(quoted.begin(), '`');
      quoted.push_back('`');
      CHECK_MESSAGE(contains(page, quoted), quoted);
    }
}

}  // namespace
}  // namespace cli_test
