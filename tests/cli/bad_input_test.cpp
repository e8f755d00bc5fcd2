// Input that cannot be used: one line with file, cause and next step, a result with its reason, the rest done.
#include <unistd.h>

#include <filesystem>

#include "documents.h"
#include "scenes.h"

namespace cli_test {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

constexpr int kCannotStart = 127;

void check_unreadable_beside_a_good_one(const TemporaryFolder& folder, const std::string& name) {
  CAPTURE(name);
  write_file(folder / "good.bmp", ruling_bmp());
  const Surroundings there{folder.path(), false, ""};
  const Finished run = gradus({"calibrate", name, "good.bmp", "--division", "10um"}, there);
  CHECK(run.exit_code == 1);
  CHECK(lines_of(run.errors).size() == 1);
  CHECK(run.errors.starts_with("gradus: " + name + ": "));
  CHECK(contains(run.errors, "; "));  // the next step
  CHECK(contains(run.output, "refused: unreadable"));
  const json results = results_of({name, "good.bmp"}, there);
  REQUIRE(results.size() == 2);
  CHECK(results[0]["image"] == name);
  CHECK(results[0]["status"] == "refused");
  CHECK(results[0]["reason"]["code"] == "unreadable");
  CHECK(results[1]["status"] == "calibrated");
  CHECK(gradus({"calibrate", name, "--division", "10um"}, there).exit_code == 2);
}

TEST_CASE("a file that is missing, empty, cut, or no image is unreadable") {
  const TemporaryFolder folder;
  check_unreadable_beside_a_good_one(folder, "missing.png");
  write_file(folder / "empty.png", "");
  check_unreadable_beside_a_good_one(folder, "empty.png");
  write_file(folder / "text.png", "These are words.\n");
  check_unreadable_beside_a_good_one(folder, "text.png");
  const std::string whole = ruling_bmp();
  write_file(folder / "cut.bmp", whole.substr(0, whole.size() / 2));
  check_unreadable_beside_a_good_one(folder, "cut.bmp");
  std::string huge = whole;  // claims 2^31 - 1 columns
  huge.replace(18, 4, "\xFF\xFF\xFF\x7F", 4);
  write_file(folder / "huge.bmp", huge);
  check_unreadable_beside_a_good_one(folder, "huge.bmp");
  write_file(folder / "one.bmp", blank_bmp(1, 1));
  CHECK(results_of({(folder / "one.bmp").string()})[0]["reason"]["code"] == "too-small");
}

TEST_CASE("a folder that is missing or holds no images is unreadable") {
  const TemporaryFolder folder;
  fs::create_directory(folder / "hollow");
  write_file(folder / "hollow/notes.txt", "nothing");
  check_unreadable_beside_a_good_one(folder, "hollow");
  check_unreadable_beside_a_good_one(folder, "missing/");
}

TEST_CASE("a file or folder without permission is unreadable") {
  if (geteuid() == 0) {
    const Finished able = run({GRADUS_PROGRAM, "--version"}, {"/", true, ""});
    if (able.exit_code == kCannotStart) {
      MESSAGE("skipped: root may read everything, and the program cannot be started as another user");
      return;
    }
  }
  const TemporaryFolder folder;
  write_file(folder / "good.bmp", ruling_bmp());
  write_file(folder / "secret.bmp", ruling_bmp());
  write_file(folder / "closed/a.bmp", ruling_bmp());
  fs::permissions(folder / "secret.bmp", fs::perms::none);
  fs::permissions(folder / "closed", fs::perms::none);
  const Surroundings there{folder.path(), geteuid() == 0, ""};
  const Finished run = gradus({"calibrate", "secret.bmp", "closed", "good.bmp", "--division", "10um"}, there);
  CHECK(run.exit_code == 1);
  CHECK(lines_of(run.errors).size() == 2);
  CHECK(contains(run.errors, "gradus: secret.bmp: "));
  CHECK(contains(run.errors, "gradus: closed: "));
  CHECK(contains(run.output, "1 calibrated, 2 refused."));
  const Finished output = gradus({"calibrate", "good.bmp", "--division", "10um", "--json", "out.json"}, there);
  CHECK(output.exit_code == 2);
  CHECK(lines_of(output.errors).size() == 1);
  fs::permissions(folder / "closed", fs::perms::owner_all);
}

TEST_CASE("hostile names come through whole") {
  const TemporaryFolder folder;
  const std::vector<std::string> names = {"with space.bmp",  "it's.bmp",          "a \"b\".bmp", "comma,semi;.bmp",
                                          "line\nbreak.bmp", "\u00B5-\u6DF1.bmp", "%2F%s%n.bmp", "$(x)`y`.bmp",
                                          "back\\slash.bmp", "tab\t.bmp"};
  for (const std::string& name : names) write_file(folder / name, ruling_bmp());
  std::vector<std::string> arguments(names);
  const json results = results_of(arguments, {folder.path(), false, ""});
  REQUIRE(results.size() == names.size());
  for (std::size_t i = 0; i < names.size(); ++i) {
    CHECK(results[i]["image"] == names[i]);
    CHECK(results[i]["status"] == "calibrated");
  }
}

TEST_CASE("a name with a line break stays one line of the message, the table and the CSV's record") {
  const TemporaryFolder folder;
  write_file(folder / "two\nlines.png", "");
  write_file(folder / "good.bmp", ruling_bmp());
  const Surroundings there{folder.path(), false, ""};
  const Finished run = gradus({"calibrate", "two\nlines.png", "good.bmp", "--division", "10um"}, there);
  CHECK(lines_of(run.errors).size() == 1);
  CHECK(contains(run.output, "two\\nlines.png"));
  const Finished csv = gradus({"calibrate", "two\nlines.png", "--division", "10um", "--csv", "-"}, there);
  CHECK(contains(csv.output, "\n\"two\nlines.png\",refused,"));
}

TEST_CASE("a name that is no UTF-8 is shown with replacement characters") {
  const TemporaryFolder folder;
  write_file(folder / "latin\xE9.bmp", ruling_bmp());
  const json results = results_of({folder.path().string()});
  REQUIRE(results.size() == 1);
  CHECK(results[0]["image"] == (folder / "latin\uFFFD.bmp").string());
  CHECK(results[0]["status"] == "calibrated");
}

TEST_CASE("names like options and lists can be given") {
  const TemporaryFolder folder;
  write_file(folder / "-dash.bmp", ruling_bmp());
  write_file(folder / "[a,b]/x.bmp", ruling_bmp());
  const Surroundings there{folder.path(), false, ""};
  const Finished dash = gradus({"calibrate", "--division", "10um", "--json", "-", "--", "-dash.bmp"}, there);
  CHECK(json::parse(dash.output)["results"][0]["status"] == "calibrated");
  CHECK(results_of({"[a,b]"}, there)[0]["status"] == "calibrated");
}

}  // namespace
}  // namespace cli_test
