// gradus report and --report: pages as files.
#include <scale/register.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <map>

#include "rooms.h"
#include "tamper.h"

namespace cli_test {
namespace {

namespace fs = std::filesystem;

constexpr const char* kPrinted = "2026-03-01T08:00:00Z";

Finished report(const TemporaryFolder& folder, std::vector<std::string> more = {}, const std::string& at = kPrinted,
                const std::string& pages = "pages") {
  std::vector<std::string> arguments = {"report", "--lab", "lab.toml", "--report", pages, "--at", at};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return gradus(arguments, {folder.path(), false, ""});
}

std::map<std::string, std::string> files_in(const fs::path& folder) {
  std::map<std::string, std::string> files;
  for (const auto& entry : fs::directory_iterator(folder))
    files[entry.path().filename().string()] = read_file(entry.path());
  return files;
}

std::vector<std::string> names_of(const std::map<std::string, std::string>& files) {
  std::vector<std::string> names;
  for (const auto& [name, bytes] : files) names.push_back(name);
  return names;
}

TEST_CASE("a recorded room has a sheet a set-up, its pictures and an overview") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  const Finished run = report(folder);
  INFO(run.errors);
  REQUIRE(run.exit_code == 0);
  CHECK(run.errors.empty());
  const auto files = files_in(folder / "pages");
  CHECK(names_of(files) == std::vector<std::string>{"calibration-wool-10x-1.jpg", "calibration-wool-10x.html",
                                                    "calibration-wool-14x-1.jpg", "calibration-wool-14x.html",
                                                    "index.html"});
  const std::string& sheet = files.at("calibration-wool-10x.html");
  for (const char* part : {"µm per pixel", "10x/a.bmp", "src=\"calibration-wool-10x-1.jpg\"", "id=\"residuals-1-t\"",
                           "id=\"spectrum-1-t\"", "id=\"field-t\"", "id=\"history-t\"", "reference scale", "A. Tester",
                           "Decision rule", "page \" counter(page) \" of \" counter(pages)"}) {
    CAPTURE(part);
    CHECK(contains(sheet, part));
  }
  CHECK(contains(sheet, lines_of(in_register(folder, {"verify"}).output)[1].substr(8)));
  CHECK(contains(files.at("index.html"), "href=\"calibration-wool-10x.html\""));
  CHECK(files.at("calibration-wool-10x-1.jpg").starts_with("\xFF\xD8\xFF"));
}

TEST_CASE("the same register and --at give the same bytes, from the run itself too") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder, {"--report", "run"}).exit_code == 0);
  REQUIRE(report(folder, {}, kDay).exit_code == 0);
  const auto first = files_in(folder / "pages");
  REQUIRE(report(folder, {}, kDay).exit_code == 0);
  CHECK(files_in(folder / "pages") == first);
  CHECK(files_in(folder / "run") == first);
}

TEST_CASE("with --embed a page stands alone and stays below 1.5 MB") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  REQUIRE(report(folder, {"--embed", "--setup", "wool-10x"}).exit_code == 0);
  const auto files = files_in(folder / "pages");
  CHECK(names_of(files) == std::vector<std::string>{"calibration-wool-10x.html", "index.html"});
  CHECK(contains(files.at("calibration-wool-10x.html"), "src=\"data:image/jpeg;base64,/9j/"));
  CHECK(files.at("calibration-wool-10x.html").size() < 1'500'000);
}

TEST_CASE("--setup writes one sheet, and an overview with every set-up, linked where there is a page") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  REQUIRE(report(folder, {"--setup", "wool-10x"}).exit_code == 0);
  const std::string alone = read_file(folder / "pages/index.html");
  CHECK(contains(alone, "href=\"calibration-wool-10x.html\""));
  CHECK(contains(alone, "wool-14x"));
  CHECK_FALSE(contains(alone, "href=\"calibration-wool-14x.html\""));
  REQUIRE(report(folder).exit_code == 0);
  const auto whole = files_in(folder / "pages");
  REQUIRE(report(folder, {"--setup", "wool-10x"}).exit_code == 0);
  CHECK(files_in(folder / "pages") == whole);
}

TEST_CASE("a record that cannot be understood is told, exit 1, and the other set-ups have their pages") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  {
    auto reg = scale::Register::open((folder / "register.sqlite").string(), scale::RegisterUse::write);
    REQUIRE(reg);
    const scale::RecordDraft draft{"calibration", "wool-14x", std::nullopt, kDay, "A. Tester", R"({"result": {}})"};
    REQUIRE(reg->append_calibration(draft, kRoom));
  }
  for (const std::vector<std::string>& more : {std::vector<std::string>{}, {"--setup", "wool-10x"}}) {
    const Finished run = report(folder, more);
    CHECK(run.exit_code == 1);
    CHECK(contains(run.errors, "wool-14x: its record cannot be understood"));
    CHECK_FALSE(contains(run.errors, "stopped"));
    const auto files = files_in(folder / "pages");
    CHECK(files.contains("calibration-wool-10x.html"));
    CHECK_FALSE(files.contains("calibration-wool-14x.html"));
    CHECK(contains(files.at("index.html"), "its record cannot be understood"));
  }
}

TEST_CASE("a picture that is gone or another leaves a labelled gap, and --images finds it again") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  fs::create_directories(folder / "archive/2026");
  fs::rename(folder / "10x", folder / "archive/2026/10x");
  write_file(folder / "14x/a.bmp", scale_of_pitch(20.0, 99));
  REQUIRE(report(folder).exit_code == 0);
  auto files = files_in(folder / "pages");
  CHECK(contains(files.at("calibration-wool-10x.html"), "No picture: <bdi>the file is not where it was"));
  CHECK(contains(files.at("calibration-wool-14x.html"), "another SHA-256"));
  REQUIRE(report(folder, {"--images", "archive/2026"}).exit_code == 0);
  files = files_in(folder / "pages");
  CHECK(contains(files.at("calibration-wool-10x.html"), "src=\"calibration-wool-10x-1.jpg\""));
}

TEST_CASE("a register that is not as it was written gives no page") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  tamper(folder, "DROP TRIGGER record_never_changes; UPDATE record SET made_by = 'B. Other' WHERE number = 2");
  const Finished run = report(folder);
  CHECK(run.exit_code == 1);
  CHECK(contains(run.errors, "no page is written"));
  CHECK_FALSE(fs::exists(folder / "pages"));
  write_file(folder / "register.sqlite", "no database");
  CHECK(report(folder).exit_code == 2);
  CHECK_FALSE(fs::exists(folder / "pages"));
}

TEST_CASE("hostile names and lab-file text appear as text") {
  const TemporaryFolder folder;
  const std::string hostile = "<script>alert('x')</script>";
  std::string lab =
      with(kRoom, "name = \"wool-10x\"",
           "name = \"wool-10x\"\nmicroscope = \"" + hostile + std::string(300, 'm') + "\"\ncamera = \"\\u202Egnp\"");
  lab = with(lab, "[room]", "[room]\nname = \"" + hostile + "\"");
  furnish(folder, lab);
  write_file(folder / "10x/<img src=x onerror=alert(1)>\".bmp", scale_of_pitch(14.5, 7));
  fs::remove(folder / "10x/a.bmp");
  fs::remove(folder / "10x/b.bmp");
  REQUIRE(record_room(folder).exit_code == 0);
  REQUIRE(report(folder).exit_code == 0);
  for (const auto& [name, bytes] : files_in(folder / "pages")) {
    if (!name.ends_with(".html")) continue;
    CHECK_FALSE(contains(bytes, "<script"));
    CHECK_FALSE(contains(bytes, "<img src=x"));
    CHECK_FALSE(contains(bytes, "\u202E"));
  }
  const std::string sheet = read_file(folder / "pages/calibration-wool-10x.html");
  CHECK(contains(sheet, "&lt;script&gt;"));
  CHECK(contains(sheet, "[U+202E]gnp"));
  CHECK(contains(sheet, "&lt;img src=x onerror=alert(1)&gt;&quot;.bmp"));
}

TEST_CASE("images without a lab file have a page each, and refused ones their reason") {
  const TemporaryFolder folder;
  write_file(folder / "a.bmp", ruling_bmp());
  write_file(folder / "blank.bmp", blank_bmp());
  const Finished run =
      gradus({"calibrate", "a.bmp", "blank.bmp", "--division", "10um", "--report", "pages", "--at", kDay},
             {folder.path(), false, ""});
  CHECK(run.exit_code == 1);
  const auto files = files_in(folder / "pages");
  REQUIRE(files.contains("calibration-a-bmp.html"));
  CHECK(contains(files.at("calibration-a-bmp.html"), "not in a register"));
  CHECK(contains(files.at("calibration-a-bmp.html"), "The budget is not complete"));
  CHECK(contains(files.at("index.html"), "Refused"));
  CHECK(contains(files.at("index.html"), "blank.bmp"));
}

TEST_CASE("states follow the day of printing") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "tolerance = \"0.5 %\"", "tolerance = \"0.5 %\"\nrecalibrate_every = \"365 d\""));
  REQUIRE(record_room(folder).exit_code == 0);
  const std::map<std::string, std::string> states = {
      {"2026-03-01T08:00:00Z", "in order"}, {"2027-02-10T08:00:00Z", "due soon"}, {"2027-03-01T08:00:00Z", "overdue"}};
  for (const auto& [day, state] : states) {
    REQUIRE(report(folder, {"--setup", "wool-10x"}, day).exit_code == 0);
    CHECK(contains(read_file(folder / "pages/index.html"), "<b>" + state + "</b>"));
  }
}

TEST_CASE("--images must name a folder that is there") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  const Finished lost = report(folder, {"--images", "nowhere"});
  CHECK(lost.exit_code == 2);
  CHECK(contains(lost.errors, "nowhere: there is no such folder; --images names one that holds the shots"));
}

TEST_CASE("a check has its page, and the room then shows it: drifted, in a line, with its charts") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  write_file(folder / "today/10x/a<b>.bmp", scale_of_pitch(14.6, 5));
  write_file(folder / "today/14x/c.bmp", scale_of_pitch(20.0, 6));
  const std::vector<std::string> check = {"check",    "today",      "--recursive", "--lab", "lab.toml",
                                          "--record", "--operator", "B. Tester",   "--at",  kPrinted,
                                          "--quiet",  "--report",   "day"};
  CHECK(gradus(check, {folder.path(), false, ""}).exit_code == 1);
  const std::string page = read_file(folder / "day/check-2026-03-01.html");
  for (const char* part : {"1 of 2 images drifted or not of their set-up", "today/<wbr>10x/<wbr>a&lt;b&gt;.bmp",
                           "<b>drifted</b>", "<b>within</b>", "Look at again", "<svg xmlns"}) {
    CAPTURE(part);
    CHECK(contains(page, part));
  }
  REQUIRE(report(folder, {}, "2026-03-02T08:00:00Z").exit_code == 0);
  const auto files = files_in(folder / "pages");
  REQUIRE(files.contains("checks-wool-10x.html"));
  CHECK(contains(files.at("checks-wool-10x.html"), "<b>drifted</b>"));
  const std::string& overview = files.at("index.html");
  CHECK(contains(overview, "1 check, 1 not within limits"));
  CHECK(contains(overview, "href=\"checks-wool-10x.html\""));
  CHECK(contains(overview, "1 in order, 1 drifted"));
}

TEST_CASE("images that do not belong show in the room until they are put right, and pages of runs are linked") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  write_file(folder / "today/10x/same.bmp", scale_of_pitch(14.5, 11));
  write_file(folder / "today/10x/misfiled.bmp", scale_of_pitch(20.0, 13));
  const std::vector<std::string> check = {"check",    "today",      "--recursive", "--lab", "lab.toml",
                                          "--record", "--operator", "B. Tester",   "--at",  kPrinted,
                                          "--quiet",  "--report",   "pages"};
  CHECK(gradus(check, {folder.path(), false, ""}).exit_code == 1);
  REQUIRE(report(folder).exit_code == 0);
  const std::string wrong = read_file(folder / "pages/index.html");
  CHECK(contains(wrong, "<b>wrong images</b>"));
  CHECK(contains(wrong, "1 image with it does not belong to it, first found on <span class=\"q\">2026-03-01</span>"));
  CHECK(contains(wrong, "2 images checked: 1 within, 1 mismatch"));
  CHECK(contains(wrong, "href=\"check-2026-03-01.html\""));
  fs::create_directories(folder / "today/14x");
  fs::rename(folder / "today/10x/misfiled.bmp", folder / "today/14x/misfiled.bmp");
  REQUIRE(report(folder).exit_code == 0);
  const std::string right = read_file(folder / "pages/index.html");
  CHECK(!contains(right, "<b>wrong images</b>"));
  CHECK(contains(right, "1 image checked: 1 within"));
  // Where the pictures are not at hand nobody knows that they were put right.
  fs::rename(folder / "today", folder / "elsewhere");
  REQUIRE(report(folder).exit_code == 0);
  CHECK(contains(read_file(folder / "pages/index.html"), "<b>wrong images</b>"));
}

TEST_CASE("the decimal comma is for print and only with a report") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  REQUIRE(report(folder, {"--decimal-comma"}).exit_code == 0);
  CHECK(contains(read_file(folder / "pages/calibration-wool-10x.html"), "k = 2,0"));
  CHECK(calibrate_room(folder, {"--decimal-comma"}).exit_code == 2);
}

TEST_CASE("what report needs is told") {
  const TemporaryFolder folder;
  furnish(folder);
  CHECK(contains(report(folder).errors, "there is no register yet"));
  CHECK(report(folder).exit_code == 2);
  CHECK(gradus({"report", "--report", "pages"}, {folder.path(), false, ""}).exit_code == 2);
  CHECK(report(folder, {}, "yesterday").exit_code == 2);
  REQUIRE(record_room(folder).exit_code == 0);
  CHECK(contains(report(folder, {"--setup", "none"}).errors, "there is no set-up 'none' in it (wool-10x, wool-14x)"));
  write_file(folder / "file", "");
  CHECK(report(folder, {}, kPrinted, "file/pages").exit_code == 2);
}

TEST_CASE("without a Chromium --pdf says how to print by hand, and the pages are there") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  const Finished run = cli_test::run({"/usr/bin/env", "PATH=/nowhere", GRADUS_PROGRAM, "report", "--lab", "lab.toml",
                                      "--report", "pages", "--at", kPrinted, "--pdf"},
                                     {folder.path(), false, ""});
  CHECK(run.exit_code == 2);
  CHECK(contains(run.errors, "open pages/index.html in a browser and print it"));
  CHECK(fs::exists(folder / "pages/calibration-wool-10x.html"));
}

}  // namespace
}  // namespace cli_test
