// The pages of a large room: 20 set-ups with 200 checks each.
#include <scale/register.h>

#include <algorithm>
#include <filesystem>

#include "rooms.h"
#include "support/slower.h"

namespace cli_test {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr int kSetups = 20, kChecks = 200;
// Of processor time, which on an idle machine is more than what a person waits for.
constexpr double kMostSeconds = 2.0;

std::string called(int number) { return std::string("set-up ").append(std::to_string(number)); }

std::string replaced(std::string text, const std::string& what, const std::string& instead) {
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + instead.size()))
    text.replace(at, what.size(), instead);
  return text;
}

std::string lab_of_many() {
  const std::size_t first = kRoom.find("[[setup]]"), second = kRoom.find("[[setup]]", first + 1);
  std::string lab = kRoom.substr(0, first);
  for (int i = 0; i < kSetups; ++i)
    lab += replaced(replaced(kRoom.substr(first, second - first), "wool-10x", called(i)), "10x/*",
                    std::to_string(i) + "/*");
  return lab;
}

// What gradus itself records of a calibration and of a check of the first set-up of the small room.
struct Recorded {
  std::string calibration, check;
};

Recorded recorded_by_gradus(const TemporaryFolder& folder) {
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  write_file(folder / "today/10x/a.bmp", scale_of_pitch(14.5, 11));
  REQUIRE(gradus({"check", "today", "--recursive", "--lab", "lab.toml", "--record", "--operator", "B. Tester", "--at",
                  "2026-03-01T08:00:00Z"},
                 {folder.path(), false, ""})
              .exit_code == 0);
  Recorded recorded;
  const json exported = json::parse(in_register(folder, {"export", "--json", "-"}).output);
  for (const json& record : exported.at("records")) {
    if (record["kind"] == "calibration" && record["setup"] == "wool-10x") recorded.calibration = record["content"];
    if (record["kind"] == "check") recorded.check = record["content"];
  }
  REQUIRE(!recorded.check.empty());
  return recorded;
}

void fill(const TemporaryFolder& folder, const Recorded& recorded) {
  const std::string lab = lab_of_many();
  write_file(folder / "lab.toml", lab);
  fs::remove(folder / "register.sqlite");
  auto reg = scale::Register::create((folder / "register.sqlite").string());
  REQUIRE(reg);
  std::vector<scale::RecordDraft> checks;
  for (int i = 0; i < kSetups; ++i) {
    scale::RecordDraft draft{"calibration", called(i),   std::nullopt,
                             kDay,          "A. Tester", replaced(recorded.calibration, "wool-10x", called(i))};
    const auto calibration = reg->append_calibration(draft, lab);
    REQUIRE(calibration);
    for (int n = 0; n < kChecks; ++n)
      checks.push_back({"check", called(i), calibration->number, "2026-03-01T08:00:00Z", "B. Tester", recorded.check});
  }
  REQUIRE(reg->append(checks));
}

TEST_CASE("a room of 20 set-ups with 200 checks each has all its pages in under 2 s") {
  const TemporaryFolder folder;
  fill(folder, recorded_by_gradus(folder));
  double least = 1e9;
  for (int run = 0; run < 3; ++run) {
    const Finished made = gradus({"report", "--lab", "lab.toml", "--report", "pages", "--at", "2026-03-02T08:00:00Z"},
                                 {folder.path(), false, ""});
    INFO(made.errors);
    REQUIRE(made.exit_code == 0);
    least = std::min(least, made.processor_seconds);
  }
  MESSAGE("all pages: ", least, " s of processor time");
  CHECK(least < test_support::kSlower * kMostSeconds);
  CHECK(fs::exists(folder / "pages/calibration-set-up-19.html"));
  CHECK(fs::exists(folder / "pages/checks-set-up-19.html"));
  CHECK(contains(read_file(folder / "pages/index.html"), "20 set-ups"));
}

}  // namespace
}  // namespace cli_test
