// Comparing a shot with its set-up, and what a file says with the register.
#include <doctest/doctest.h>
#include <scale/drift.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <string>

#include "support/drawn_ruling.h"
#include "support/within.h"

namespace {

using namespace scale;

constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr double kExact = 1e-12;

bool has(const Judgement& judgement, const std::string& code) {
  return std::any_of(judgement.evidence.begin(), judgement.evidence.end(),
                     [&](const Evidence& one) { return one.code == code; });
}

std::string message_of(const Judgement& judgement, const std::string& code) {
  for (const Evidence& one : judgement.evidence)
    if (one.code == code) return one.message;
  return "";
}

TEST_CASE("a component that both share cancels, and is in neither U") {
  const FactorAlong registered{0.5, {{"reference scale", 3e-4, kInf}, {"fit", 1e-4, kInf}}};
  FactorAlong found{0.5 * (1.0 + 4e-4), {{"reference scale", 3e-4, kInf}, {"fit", 2e-4, kInf}}};
  const std::vector<std::string> shared = {"reference scale"};
  const ScaleComparison c = compare_factors(found, registered, shared);
  const double u = std::sqrt(1e-8 + 4e-8);
  CHECK(within(c.relative_change, 4e-4, kExact));
  CHECK(within(c.standard_uncertainty, u, kExact));
  CHECK(within(c.expanded_uncertainty, 2.0 * u, 1e-9));
  CHECK(within(c.limit, 3.0 * u, 1e-9));
  // En by hand: 4e-4 over the root of (2e-4)^2 + (4e-4 (1 + 4e-4))^2.
  CHECK(within(c.en, 4e-4 / std::hypot(2e-4, 4e-4 * (1.0 + 4e-4)), 1e-6));
  // Another scale: both certificates count.
  CHECK(within(compare_factors(found, registered, {}).standard_uncertainty, std::sqrt(5e-8 + 2 * 9e-8), kExact));
  // The same error with another weight, as over another span: its difference is left.
  found.parts.front().relative = 5e-4;
  CHECK(within(compare_factors(found, registered, shared).standard_uncertainty, std::sqrt(5e-8 + 4e-8), kExact));
}

TEST_CASE("few degrees of freedom widen the limit as Student's t does") {
  const FactorAlong registered{0.5, {{"repeatability", 1e-4, 3.0}}};
  const ScaleComparison c = compare_factors({0.5, {}}, registered, {});
  CHECK(within(c.degrees_of_freedom, 3.0, 1e-9));
  CHECK(within(c.limit / 1e-4, 9.22, 0.01));  // t for 99.73 % and 3 degrees of freedom (JCGM 100, Table G.2: 9.22)
}

RegisteredSetup setup(const std::string& name, double factor, double magnification) {
  RegisteredSetup own;
  own.name = name;
  own.scale = "SM-A";
  own.both = FactorAlong{factor, {{"reference scale", 1e-4, kInf}, {"repeatability", 1e-4, kInf}}};
  own.x = own.y = own.both;
  own.repeatability = 2e-4;
  own.repeatability_freedom = kInf;
  own.size = {1280, 960};
  own.magnification = magnification;
  return own;
}

std::vector<RegisteredSetup> room() {
  return {setup("4x", 1.7474, 4), setup("10x", 0.684, 10), setup("20x", 0.348, 20), setup("40x", 0.1706, 40)};
}

ReferenceScale reference() {
  ReferenceScale scale;
  scale.division = {10.0};
  scale.uncertainty = CertifiedUncertainty{{0.2}};
  return scale;
}

Judgement shot_of(double factor, int width = 1280, int height = 960) {
  test_support::DrawnShot drawn;
  drawn.um_per_pixel = factor;
  drawn.width = width, drawn.height = height;
  SetupConditions conditions;
  conditions.room = RoomTemperature{20.0, 1.0};
  conditions.refocused_between_shots = true;
  conditions.stated.slope = Radians{0.0};  // the drawn slide is level
  const auto all = room();
  return judge_shot(test_support::drawn(drawn), reference(), conditions, all[1], true, all);
}

TEST_CASE("an unchanged shot is within, a changed one drifted, one of another objective or size a mismatch") {
  const Judgement same = shot_of(0.684);
  CHECK(same.verdict == Verdict::within);
  CHECK(has(same, "scale-agrees"));
  CHECK_FALSE(same.looks_like);
  const Judgement drifted = shot_of(0.684 * 1.004);
  CHECK(drifted.verdict == Verdict::drifted);
  CHECK(within(drifted.comparisons.front().relative_change, 0.004, 1e-4));
  CHECK(std::abs(drifted.comparisons.front().en) > 1.0);
  // 100 / 1.004 = 99.60
  CHECK(drifted.evidence.front().message.find("99.60 µm") != std::string::npos);
  const Judgement other = shot_of(0.348);
  CHECK(other.verdict == Verdict::mismatch);
  REQUIRE(other.looks_like);
  CHECK(other.looks_like->setup == "20x");
  const Judgement half = shot_of(2.0 * 0.684, 640, 480);
  CHECK(half.verdict == Verdict::mismatch);
  REQUIRE(half.looks_like);
  CHECK(half.looks_like->setup == "10x");
  CHECK(half.looks_like->times == 2.0);
  // Cropped: the scale is right and the picture is not the set-up's.
  const Judgement cropped = shot_of(0.684, 1200, 900);
  CHECK(cropped.verdict == Verdict::mismatch);
  CHECK(has(cropped, "size-differs"));
}

TEST_CASE("within U of the tolerance nothing is proven (ISO 14253-1, clause from memory)") {
  const auto all = room();
  RegisteredSetup own = all[1];
  test_support::DrawnShot drawn;
  SetupConditions conditions;
  conditions.room = RoomTemperature{20.0, 1.0};
  conditions.refocused_between_shots = true;
  const auto verdict = [&](double change, double tolerance) {
    own.tolerance = tolerance;
    drawn.um_per_pixel = 0.684 * (1.0 + change);
    return judge_shot(test_support::drawn(drawn), reference(), conditions, own, true, all);
  };
  const double u = verdict(0.0, 0.01).comparisons.front().standard_uncertainty;
  CHECK(verdict(0.0, 0.01).verdict == Verdict::within);
  const Judgement undecided = verdict(2.5 * u, 3.0 * u);
  CHECK(undecided.verdict == Verdict::unverifiable);
  CHECK(has(undecided, "tolerance-undecided"));
  CHECK(has(undecided, "en-above-1"));
  // A tolerance smaller than U proves conformity of nothing, and accuses nothing that has not changed.
  CHECK(verdict(0.0, u).verdict == Verdict::unverifiable);
  const Judgement beyond = verdict(2.9 * u, 0.5 * u);
  CHECK(beyond.verdict == Verdict::drifted);
  CHECK(has(beyond, "beyond-tolerance"));
}

TEST_CASE("one shot in the register gives no accusation by a scatter that nobody measured") {
  const auto all = room();
  RegisteredSetup own = all[1];
  own.repeatability.reset();
  test_support::DrawnShot drawn;
  drawn.um_per_pixel = 0.684 * (1.0 + 1e-3);
  const Judgement judgement = judge_shot(test_support::drawn(drawn), reference(), SetupConditions{}, own, true, all);
  CHECK(judgement.verdict == Verdict::within);
  CHECK(has(judgement, "repeatability-assumed"));
}

TEST_CASE("what was touched is told: the camera's turn") {
  const auto all = room();
  RegisteredSetup own = all[1];
  own.directions_deg = {0.5, -1.0};
  test_support::DrawnShot drawn;
  drawn.um_per_pixel = 0.684;
  drawn.angle_deg = 7.0;
  CHECK(has(judge_shot(test_support::drawn(drawn), reference(), {}, own, true, all), "rotated"));
  drawn.angle_deg = 91.0;  // the slide laid across is no turn of the camera
  CHECK_FALSE(has(judge_shot(test_support::drawn(drawn), reference(), {}, own, true, all), "rotated"));
}

TEST_CASE("what was touched is told: x against y, edges, evenness over the field") {
  const auto all = room();
  RegisteredSetup own = all[1];
  own.blurs_px = {1.0, 1.2};
  own.nonlinearities_px = {0.02, 0.05};
  test_support::DrawnShot drawn;
  drawn.um_per_pixel = 0.684;
  const auto judged = [&](double across, double blur, double bent) {
    auto shot = test_support::drawn(drawn);
    test_support::DrawnShot other = drawn;
    other.angle_deg = 90.0;
    other.um_per_pixel = 0.684 * across;
    shot.reading.rulings.push_back(test_support::drawn(other).reading.rulings.front());
    for (auto& ruling : shot.reading.rulings) ruling.edge_blur_px = blur, ruling.nonlinearity_max_px = bent;
    return judge_shot(shot, reference(), {}, own, true, all);
  };
  const Judgement same = judged(1.0, 1.1, 0.04);
  REQUIRE(same.comparisons.size() == 2);
  for (const char* code : {"ratio-changed", "sharpness-changed", "field-changed"}) CHECK_FALSE(has(same, code));
  CHECK(has(judged(1.01, 1.1, 0.04), "ratio-changed"));
  CHECK(has(judged(1.0, 3.0, 0.04), "sharpness-changed"));
  CHECK(has(judged(1.0, 0.3, 0.04), "sharpness-changed"));
  CHECK(has(judged(1.0, 1.1, 2.0), "field-changed"));
}

FileStatement plain(int width = 1280, int height = 960) {
  FileStatement file;
  file.width = width, file.height = height;
  file.bits = 8, file.channels = 1;
  return file;
}

Judgement file_of(const FileStatement& file, std::size_t own = 1) {
  const auto all = room();
  return judge_file(file, all[own], all);
}

TEST_CASE("a file that says nothing is unverifiable, never within") {
  const Judgement nothing = file_of(plain());
  CHECK(nothing.verdict == Verdict::unverifiable);
  CHECK(has(nothing, "nothing-to-compare"));
  FileStatement printed = plain();
  printed.ignored = {"JFIF resolution of 72 dpi"};
  CHECK(file_of(printed).verdict == Verdict::unverifiable);
}

TEST_CASE("pixel sizes and magnifications: agreement is within, another set-up's is named") {
  FileStatement file = plain();
  file.pixels = {{"OME", 0.69, 0.69}};
  CHECK(file_of(file).verdict == Verdict::within);
  file.pixels = {{"OME", 0.345, 0.345}};
  const Judgement misfiled = file_of(file);
  CHECK(misfiled.verdict == Verdict::mismatch);
  REQUIRE(misfiled.looks_like);
  CHECK(misfiled.looks_like->setup == "20x");
  file.pixels.clear();
  file.magnification = 10.0;
  CHECK(file_of(file).verdict == Verdict::within);
  file.magnification = 40.0;
  CHECK(file_of(file).looks_like->setup == "40x");
  // An anisotropic pixel does not agree by its x alone.
  file.magnification.reset();
  file.pixels = {{"TIFF", 0.69, 1.38}};
  CHECK(file_of(file).verdict == Verdict::mismatch);
  // What is as large as a printed dot is none of the specimen's.
  file.pixels = {{"TIFF", 250.0, 250.0}};
  CHECK(file_of(file).verdict == Verdict::unverifiable);
}

TEST_CASE("sizes: half, cropped, and another set-up's") {
  FileStatement half = plain(640, 480);
  half.pixels = {{"TIFF", 0.69, 0.69}};  // left standing by the export
  const Judgement judgement = file_of(half);
  CHECK(judgement.verdict == Verdict::mismatch);
  REQUIRE(judgement.looks_like);
  CHECK(judgement.looks_like->setup == "10x");
  CHECK(judgement.looks_like->times == 2.0);
  CHECK(file_of(plain(1000, 700)).verdict == Verdict::mismatch);
  auto all = room();
  all[2].size = {1600, 1200};
  const Judgement other = judge_file(plain(1600, 1200), all[1], all);
  CHECK(other.verdict == Verdict::mismatch);
  CHECK(other.looks_like->setup == "20x");
}

TEST_CASE("tags that contradict one another prove nothing") {
  FileStatement file = plain();
  file.pixels = {{"OME", 0.69, 0.69}, {"TIFF", 0.345, 0.345}};
  const Judgement two = file_of(file);
  CHECK(two.verdict == Verdict::unverifiable);
  CHECK(has(two, "tags-contradict"));
  CHECK_FALSE(two.looks_like);
  file.pixels = {{"OME", 0.69, 0.69}};
  file.magnification = 20.0;
  CHECK(file_of(file).verdict == Verdict::unverifiable);
}

TEST_CASE("fields are held against the calibration pictures' own where these state them") {
  auto all = room();
  FileStatement calibrated = plain();
  calibrated.camera = "Sample Works M1";
  calibrated.pixels = {{"TIFF", 5.0, 5.0}};  // wrong, and always written
  calibrated.rescaling_looked_for = true;
  calibrated.rescaling = {0.2};
  all[1].files = {calibrated};
  FileStatement file = calibrated;
  CHECK(judge_file(file, all[1], all).verdict == Verdict::unverifiable);
  CHECK(has(judge_file(file, all[1], all), "pixel-size-as-calibrated"));
  file.camera = "Sample Works M2";
  CHECK(judge_file(file, all[1], all).verdict == Verdict::mismatch);
  file.camera = calibrated.camera;
  file.rescaling = {0.3333};
  CHECK(judge_file(file, all[1], all).verdict == Verdict::mismatch);
  // Without the calibration's own trace to compare with, it is told and accuses nobody.
  all[1].files.clear();
  file.pixels.clear();
  const Judgement told = judge_file(file, all[1], all);
  CHECK(told.verdict == Verdict::unverifiable);
  CHECK(has(told, "rescaling-trace"));
  // Having told of a trace it does not say that none is seen.
  CHECK(message_of(told, "nothing-to-compare").find("no trace") == std::string::npos);
  file.rescaling.clear();
  CHECK(message_of(judge_file(file, all[1], all), "nothing-to-compare").find("no trace") != std::string::npos);
}

TEST_CASE("the evidence of a scale bar gives its length as it was stated") {
  for (const auto& [length_um, words] : std::map<double, std::string>{{12.5, "for 12.5 µm that"},
                                                                      {0.25, "for 0.25 µm that"},
                                                                      {100.0, "for 100 µm that"},
                                                                      {12300 * 1e-3, "for 12.3 µm that"},
                                                                      {1e6, "for 1000000 µm that"}}) {
    FileStatement file = plain();
    StatedBar bar;
    bar.length_um = length_um;
    bar.found.bar.emplace().length_px = length_um / 0.69;
    file.bar = bar;
    const std::string message = message_of(file_of(file), "bar-agrees");
    CAPTURE(message);
    CHECK(message.find(words) != std::string::npos);
  }
}

}  // namespace
