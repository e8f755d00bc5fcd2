#include <doctest/doctest.h>
#include <scale/lab.h>

#include <algorithm>
#include <chrono>

#include "support/within.h"

using namespace scale;

namespace {

// Each line a test changes stands by itself.
const std::string kLab = R"(schema = 1
[room]
name = "wool room"
temperature = { value = "21 degC", limits = "2 degC" }
[[scale]]
name = "SM-A"
division = "10um"
divisions = 100
expanded_uncertainty = "0.15um"
calibrated = 2025-03-04
recalibrate_by = 2028-03-04
corrections = [["0um", "0um"], ["500um", "0.04um"], ["1000um", "0.12um"]]
[[setup]]
name = "wool-10x"
images = ["10x/*", "*_10x.*"]
scale = "SM-A"
objective = { magnification = 10, aperture = 0.25 }
relay = 0.5
pixel_pitch = "3.45um"
image_size = [1280, 960]
tolerance = "0.5 %"
[[setup]]
name = "wool-40x"
images = ["40x/*"]
scale = "SM-A"
)";

std::string with(const std::string& what, const std::string& instead) {
  std::string text = kLab;
  const std::size_t at = text.find(what);
  REQUIRE(at != std::string::npos);
  return text.replace(at, what.size(), instead);
}

// The one problem there must be.
LabProblem problem_of(const std::string& text) {
  const LabFile file = parse_lab(text);
  CHECK_FALSE(file.lab.has_value());
  REQUIRE(!file.problems.empty());
  return file.problems.front();
}

void check_problem(const std::string& what, const std::string& instead, int line, const std::string& key,
                   const std::string& words) {
  CAPTURE(instead);
  const LabProblem problem = problem_of(with(what, instead));
  CHECK(problem.line == line);
  CHECK(problem.key == key);
  INFO(problem.message);
  CHECK(problem.message.find(words) != std::string::npos);
}

TEST_CASE("an agreed base period is a whole number of three shots or more") {
  const LabFile file = parse_lab(with("tolerance = \"0.5 %\"", "tolerance = \"0.5 %\"\ncheck_base = 20"));
  REQUIRE(file.lab);
  CHECK(file.lab->setups[0].check_base == 20);
  CHECK(file.lab->setups[1].check_base == 0);
  CHECK(problem_of(with("relay = 0.5", "check_base = 2")).key == "setup.wool-10x.check_base");
  CHECK(problem_of(with("relay = 0.5", "check_base = \"20\"")).key == "setup.wool-10x.check_base");
}

}  // namespace

TEST_CASE("a lab file gives its scales and set-ups with their units") {
  const LabFile file = parse_lab(kLab);
  for (const LabProblem& problem : file.problems)
    FAIL_CHECK(problem.line << " " << problem.key << " " << problem.message);
  REQUIRE(file.lab.has_value());
  const Lab& lab = *file.lab;
  CHECK(lab.room == "wool room");
  REQUIRE(lab.scales.size() == 1);
  CHECK(lab.scales[0].reference.corrections.size() == 3);
  CHECK(within(lab.scales[0].reference.uncertainty->constant.value, 0.15, 1e-12));
  CHECK(lab.scales[0].reference.uncertainty->coverage_factor == 2.0);
  REQUIRE(lab.setups.size() == 2);
  CHECK(within(lab.setups[0].nominal()->value, 0.69, 1e-12));
  CHECK(lab.setups[0].conditions.room->limits == 2.0);
  CHECK_FALSE(lab.setups[1].nominal().has_value());
}

TEST_CASE("a problem names its line, its key and the way out") {
  check_problem("relay = 0.5", "realy = 0.5", 18, "setup.wool-10x.realy", "was relay meant?");
  check_problem("relay = 0.5", "frobnicate = 0.5", 18, "setup.wool-10x.frobnicate", "known are");
  check_problem("division = \"10um\"", "division = 10", 7, "scale.SM-A.division", "with its unit");
  check_problem("division = \"10um\"", "division = \"10\"", 7, "scale.SM-A.division", "has no unit");
  check_problem("\"wool-40x\"", "\"wool-10x\"", 22, "setup.wool-10x", "twice");
  CHECK(problem_of(kLab + "[[scale]]\nname = \"SM-A\"\ndivision = \"10um\"\ndivisions = 100\n").line > 22);
  check_problem("[\"40x/*\"]", "[\"10x/a*\"]", 22, "setup.wool-40x.images", "overlaps \"10x/*\" of wool-10x");
  check_problem("recalibrate_by = 2028-03-04", "recalibrate_by = 2024-03-04", 11, "scale.SM-A.recalibrate_by", "after");
  check_problem("calibrated = 2025-03-04", "calibrated = \"2025-02-30\"", 10, "scale.SM-A.calibrated", "no date");
  check_problem("[\"500um\", \"0.04um\"]", "[\"1500um\", \"0.04um\"]", 12, "scale.SM-A.corrections",
                "beyond the scale");
  check_problem("[\"500um\", \"0.04um\"]", "[\"0um\", \"0.04um\"]", 12, "scale.SM-A.corrections", "out of order");
  check_problem("[\"500um\", \"0.04um\"]", "[\"500um\", 0.04]", 12, "scale.SM-A.corrections", "units");
  check_problem("[\"500um\", \"0.04um\"]", "[\"500um\", \"500.04um\"]", 12, "scale.SM-A.corrections", "deviations");
  check_problem("divisions = 100\n", "divisions = 100\ngraduation_errors = \"0.1um\"\n", 9,
                "scale.SM-A.graduation_errors", "beside corrections");
  check_problem(
      "divisions = 100\n",
      "divisions = 100\nmaterial = \"soda-lime\"\nexpansion = { value = \"9e-6 /K\", limits = \"1e-6 /K\" }\n", 10,
      "scale.SM-A.expansion", "leave one of them out");
  check_problem("scale = \"SM-A\"", "scale = \"SM-B\"", 16, "setup.wool-10x.scale", "there is SM-A");
  check_problem("schema = 1", "schema = 2", 1, "schema", "newer");
  check_problem("\"2 degC\"", "\"2\"", 4, "room.temperature.limits", "no unit");
  check_problem("divisions = 100\n", "", 5, "scale.SM-A.divisions", "missing");
  check_problem("tolerance = \"0.5 %\"", "tolerance = 0.5", 21, "setup.wool-10x.tolerance", "with its unit");
  check_problem("image_size = [1280, 960]", "image_size = [1280]", 20, "setup.wool-10x.image_size", "2 whole numbers");
  check_problem("image_size = [1280, 960]", "image_size = [1280, 960]\nmeasuring_area = [0, 0, 2000, 960]", 21,
                "setup.wool-10x.measuring_area", "inside");
  check_problem("magnification = 10", "magnification = -10", 17, "setup.wool-10x.objective.magnification", "range");
}

TEST_CASE("a date that TOML itself refuses, a key given twice and text that is no TOML name their line") {
  CHECK(problem_of(with("2025-03-04", "2025-13-04")).line == 10);
  CHECK(problem_of(with("2025-03-04", "2025-13-04")).key == "calibrated");
  CHECK(problem_of(with("= 2025-03-04", "2025-13-04")).key.empty());
  CHECK(problem_of(with("relay = 0.5", "relay = 0.5\nrelay = 0.6")).line == 19);
  CHECK(problem_of("\x01\x02nonsense").line == 1);
  CHECK(problem_of("").key == "schema");
  CHECK(problem_of("schema = 1\n").message.find("write [[scale]]") != std::string::npos);
}

TEST_CASE("all problems are told at once, in order of their lines") {
  // One mistake is told once.
  CHECK(parse_lab(with("\"0.15um\"", "0.15")).problems.size() == 1);
  CHECK(parse_lab(with("\"0.15um\"", "{ constant = \"0.1\", per_length = 1e-6 }")).problems.size() == 1);
  const LabFile file = parse_lab(with("schema = 1", "schema = 1\nzzz = 1") + "frob = 3\n");
  REQUIRE(file.problems.size() == 2);
  CHECK(file.problems[0].line < file.problems[1].line);
}

TEST_CASE("five megabytes of nonsense are refused and not chewed upon") {
  std::string nonsense;
  while (nonsense.size() < 5'000'000) nonsense += "[[[[ = \x07 ]]]] \"";
  CHECK_FALSE(parse_lab(nonsense).lab.has_value());
  CHECK_FALSE(parse_lab(std::string(5'000'000, '[')).lab.has_value());
}

TEST_CASE("a key of very many parts is refused with its line, and dots in texts are none of a key's") {
  std::string deep = "schema = 1\n";
  for (int i = 0; i < 400'000; ++i) deep += "a.";
  const LabProblem problem = problem_of(deep + "b = 1\n");
  CHECK(problem.line == 2);
  CHECK(problem.message.find("parts") != std::string::npos);
  CHECK(problem_of(with("schema = 1", "schema = 1\nx = { [a.b], " + std::string(20, '.') + " }")).line == 2);
  CHECK(parse_lab(with("\"wool room\"", "\"wool room, 1.2.3.4.5.6.7.8.9.10.11.12.13.14.15.16.17.18\"")).lab);
  CHECK(parse_lab("# " + std::string(40, '.') + "\n" + kLab).lab);
}

TEST_CASE("a file of nothing but set-ups, of which nothing is known, is not held each against each") {
  std::string many;
  while (many.size() < 900'000) many += "[[setup]]\n";
  const auto start = std::chrono::steady_clock::now();
  CHECK_FALSE(parse_lab(many).lab.has_value());
  // All pairs took half a minute.
  CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(10));
}

TEST_CASE("globs match the path or what it ends with, and a star stops at a slash") {
  CHECK(matches_glob("10x/*", "10x/a.png"));
  CHECK(matches_glob("10x/*", "shots/10x/a.png"));
  CHECK(matches_glob("*_10x.*", "shots/today/a_10x.png"));
  CHECK_FALSE(matches_glob("10x/*", "10x/old/a.png"));
  CHECK_FALSE(matches_glob("10x/*", "shots/110x/a.png"));
  CHECK_FALSE(matches_glob("*_10x.*", "a_40x.png"));
}

TEST_CASE("an image belongs to one set-up, to none or, when something is wrong, to two") {
  const Lab lab = *parse_lab(kLab).lab;
  CHECK(setups_of(lab, "shots/10x/a.png") == std::vector<std::size_t>{0});
  CHECK(setups_of(lab, "shots/4x/a.png").empty());
  CHECK(setups_of(lab, "40x/a_10x.png").size() == 2);
}
