#include <doctest/doctest.h>
#include <scale/reticle.h>

#include <cmath>
#include <string>
#include <vector>

#include "calibration/reticle_fit.h"
#include "support/within.h"

using namespace scale;

namespace {

constexpr double kRounding = 1e-9;  // of sums that are exact on paper

EyeReading read(double reticle, double micrometer, int series = 0) {
  return {reticle, micrometer, reticle != std::floor(reticle), micrometer != std::floor(micrometer), series};
}

ReferenceScale ten_um() {
  ReferenceScale scale;
  scale.division = {10.0};
  return scale;
}

ReticleCalibration calibrated(const std::vector<EyeReading>& readings, const ReadingConditions& conditions = {},
                              const ReferenceScale& scale = ten_um()) {
  const auto found = calibrate_reticle(readings, scale, conditions);
  if (!found) FAIL(found.error().message);
  return *found;
}

std::string refusal(const std::vector<EyeReading>& readings, const ReadingConditions& conditions = {},
                    ReferenceScale scale = ten_um()) {
  const auto found = calibrate_reticle(readings, scale, conditions);
  return found ? "" : found.error().code;
}

bool warned(const ReticleCalibration& result, const std::string& code) {
  for (const Warning& warning : result.warnings)
    if (warning.code == code) return true;
  return false;
}

}  // namespace

TEST_CASE("one coincidence from the zero lines has the uncertainty of two lines each good to a twentieth") {
  const ReticleCalibration found = calibrated({read(0, 0), read(97, 100)});
  CHECK(within(found.um_per_division.value, 1000.0 / 97.0, kRounding));
  // A twentieth of the coarser division, here the reticle's; two rectangular errors over the length.
  const double limits = 0.05 * 1000.0 / 97.0;
  CHECK(within(found.reading_uncertainty, std::sqrt(2.0 / 3.0) * limits / 97.0, 1e-6));
  CHECK(warned(found, "unchecked"));
}

TEST_CASE("messages name a reading as it was written") {
  CHECK(reading_words({33.0, 34.0, false, false, 0}) == "33=34");
  CHECK(reading_words({33.0, 48.7, true, true, 0}) == "33.0=48.7");
  CHECK(reading_words({1033.25, 34.0, true, false, 0}) == "1033.25=34");
  const auto found =
      calibrate_reticle(std::vector<EyeReading>{read(0, 0), read(96.125, 100), read(97, 33.25)}, ten_um(), {});
  REQUIRE_FALSE(found.has_value());
  CHECK(found.error().message.find("from 96.125=100 to 97=33.25 ") != std::string::npos);
}

TEST_CASE("what is stated of lines, estimates and parallax changes the uncertainty") {
  const std::vector<EyeReading> readings = {read(0, 0), read(50, 48.5), read(97, 100)};
  ReadingConditions stated;
  const auto u = [&] { return calibrated({read(0, 0), read(97, 100)}, stated).reading_uncertainty; };
  const double plain = u();
  stated.line_width = Micrometres{4.0};
  CHECK(within(u() / plain, 2.0 / (0.05 * 1000.0 / 97.0), 1e-6));
  stated.coincidence = Micrometres{0.1};
  CHECK(u() < 0.25 * plain);
  stated.parallax = 0.1;
  CHECK(u() > 1.5 * plain);
  ReadingConditions coarse;
  coarse.estimate = 0.3;
  const auto fraction = [&](const ReadingConditions& c) {
    return calibrated({read(0, 0), read(97, 99.5)}, c).reading_uncertainty;
  };
  CHECK(fraction(coarse) > 2.0 * fraction({}));
  CHECK(fraction({}) > 1.5 * plain);
}

TEST_CASE("neighbouring coincidences count once, by their middle") {
  // 1.013 micrometer divisions to one of the reticle: past the beat the lines agree again over some neighbours.
  const ReticleCalibration run =
      calibrated({read(0, 0), read(74, 75), read(75, 76), read(76, 77), read(77, 78), read(78, 79), read(79, 80)});
  const ReticleCalibration middle = calibrated({read(0, 0), read(76.5, 77.5)});
  CHECK(within(run.um_per_division.value, middle.um_per_division.value, kRounding));
  CHECK(run.readings[3].remark.find("74=75 to 79=80") != std::string::npos);
  CHECK(run.readings[0].remark.empty());
}

TEST_CASE("a run that begins at the zero lines counts by them, and one over the whole scale by its ends") {
  const ReticleCalibration begun = calibrated({read(0, 0), read(1, 1), read(2, 2), read(76, 77)});
  CHECK(within(begun.um_per_division.value, 770.0 / 76.0, kRounding));
  std::vector<EyeReading> quarter;
  for (int line = 0; line <= 25; ++line) quarter.push_back(read(4 * line, line));
  const ReticleCalibration whole = calibrated(quarter);
  CHECK(within(whole.um_per_division.value, 2.5, kRounding));
  CHECK(within(whole.reading_uncertainty / calibrated({read(0, 0), read(100, 25)}).reading_uncertainty, 1.0, 1e-6));
}

TEST_CASE("evenly lying coincidences are not better than the slopes that they leave open") {
  // Every tenth line coincides: slopes from 10 (1 - 0.01) to 10 (1 + 0.01) would look the same.
  std::vector<EyeReading> tens;
  for (int line = 0; line <= 100; line += 10) tens.push_back(read(line, line));
  const double ends = calibrated({read(0, 0), read(100, 100)}).reading_uncertainty;
  CHECK(within(calibrated(tens).reading_uncertainty / ends, 1.0, 1e-6));
}

TEST_CASE("the same coincidence read again does not make the factor better, an estimate does") {
  const double once = calibrated({read(0, 0), read(97, 100)}).reading_uncertainty;
  const double again = calibrated({read(0, 0), read(97, 100), read(0, 10, 1), read(97, 110, 1)}).reading_uncertainty;
  CHECK(within(again / once, 1.0, 1e-6));
  const double estimate = calibrated({read(0, 0), read(100, 96.6)}).reading_uncertainty;
  const double twice = calibrated({read(0, 0), read(100, 96.6), read(0, 0, 1), read(100, 96.5, 1)}).reading_uncertainty;
  CHECK(twice < 0.85 * estimate);
}

TEST_CASE("a reading off by one is named, left out and told, when the others prove themselves") {
  const ReticleCalibration found =
      calibrated({read(0, 0), read(33, 34), read(66, 69), read(97, 100)});  // 66=68 was there
  CHECK(warned(found, "miscounted"));
  CHECK_FALSE(found.readings[2].used);
  CHECK(found.readings[2].remark == "looks miscounted by 1 on the reticle or the micrometer");
  CHECK(within(found.readings[2].residual_um, 10.0, 0.7));
  CHECK(within(found.um_per_division.value, 1000.0 / 97.0, 0.02));
  const ReticleCalibration on_reticle =
      calibrated({read(0, 0), read(20, 5), read(41, 10), read(60, 15), read(80, 20), read(100, 25)});
  CHECK(on_reticle.readings[2].remark == "looks miscounted by 1 on the reticle");
}

TEST_CASE("three readings that contradict each other are refused, and the suspect is named") {
  const auto found = calibrate_reticle(std::vector{read(0, 0), read(33, 34), read(97, 101)}, ten_um(), {});
  REQUIRE_FALSE(found);
  CHECK(found.error().code == "inconsistent-readings");
}

TEST_CASE("readings that scatter beyond what was stated widen U; beyond belief they are refused") {
  const std::vector<EyeReading> rough = {read(0, 0),      read(20.2, 20.95), read(40.3, 41.4),
                                         read(60, 61.95), read(80, 82.3),    read(100, 103.05)};
  const ReticleCalibration found = calibrated(rough);
  CHECK(warned(found, "readings-scatter"));
  CHECK(std::isfinite(found.degrees_of_freedom));
  CHECK(refusal({read(0, 0), read(20, 23), read(40, 38), read(60, 67), read(80, 78), read(100, 107)}) ==
        "inconsistent-readings");
}

TEST_CASE("what cannot be used is refused with a code") {
  CHECK(refusal({}) == "too-few-readings");
  CHECK(refusal({read(97, 100)}) == "too-few-readings");
  CHECK(refusal({read(0, 0), read(97, 100), read(0, 0, 1)}) == "too-few-readings");
  CHECK(refusal({read(0, 0), read(0, 0)}) == "equal-readings");
  CHECK(refusal({read(0, 0), read(33, 34), read(33, 35)}) == "equal-readings");
  CHECK(refusal({read(0, 0), read(33, 34), read(97, 30)}) == "non-monotone");
  CHECK(refusal({read(-1, 0), read(97, 100)}) == "beyond-scale");
  ReadingConditions stated;
  stated.reticle_divisions = 90;
  CHECK(refusal({read(0, 0), read(97, 100)}, stated) == "beyond-scale");
  ReferenceScale short_scale = ten_um();
  short_scale.divisions = 99;
  CHECK(refusal({read(0, 0), read(97, 100)}, {}, short_scale) == "beyond-scale");
  CHECK_THROWS_AS(calibrate_reticle(std::vector{read(0, 0)}, ReferenceScale{}, {}), std::invalid_argument);
  stated.estimate = 0.0;
  CHECK_THROWS_AS(calibrate_reticle(std::vector{read(0, 0)}, ten_um(), stated), std::invalid_argument);
}

TEST_CASE("certified positions take the place of nominal ones") {
  ReferenceScale scale = ten_um();
  scale.divisions = 100;
  scale.corrections = {{{0.0}, {0.0}}, {{1000.0}, {2.0}}};
  const ReticleCalibration found = calibrated({read(0, 0), read(97, 100)}, {}, scale);
  CHECK(within(found.um_per_division.value, 1002.0 / 97.0, kRounding));
}

TEST_CASE("the reference scale and the room come into the budget when they are known") {
  ReferenceScale scale = ten_um();
  scale.uncertainty = CertifiedUncertainty{{0.5}, 0.0, 2.0};
  const auto quick = calibrate_reticle(std::vector{read(0, 0), read(32, 33), read(97, 100)}, scale, {});
  REQUIRE(quick);
  CHECK(quick->budget_complete);
  CHECK(within(quick->budget[1].contribution, quick->um_per_division.value * 0.25 / 1000.0, 1e-9));
  SetupConditions conditions;
  conditions.room = RoomTemperature{21.0, 2.0};
  const auto room = calibrate_reticle(std::vector{read(0, 0), read(32, 33), read(97, 100)}, scale, {}, conditions);
  REQUIRE(room);
  CHECK_FALSE(room->budget_complete);
  conditions.stated.field = 1e-3;
  conditions.stated.refocusing = 1e-3;
  const auto stated = calibrate_reticle(std::vector{read(0, 0), read(32, 33), read(97, 100)}, scale, {}, conditions);
  REQUIRE(stated);
  CHECK(stated->budget_complete);
  CHECK(stated->um_per_division.expanded_uncertainty > quick->um_per_division.expanded_uncertainty);
}

TEST_CASE("a reading that was left out as miscounted is asked for again, as far off as it was") {
  const ReticleCalibration found = calibrated({read(0, 0), read(10, 11), read(20, 22), read(30, 32)});
  CHECK_FALSE(found.readings[3].used);
  REQUIRE(found.further);
  CHECK(found.further->reticle == 30);
  CHECK(found.further->micrometer == 33);
}

TEST_CASE("the further reading lies far off, should coincide, and does what is said of it") {
  ReadingConditions conditions;
  conditions.reticle_divisions = 100;
  ReferenceScale scale = ten_um();
  scale.divisions = 100;
  const std::vector<EyeReading> two = {read(0, 0), read(32, 33)};
  const ReticleCalibration found = calibrated(two, conditions, scale);
  REQUIRE(found.further);
  CHECK(found.further->reticle >= 90);
  CHECK(std::abs(found.further->micrometer * 10.0 - found.further->reticle * found.um_per_division.value) < 1.0);
  std::vector<EyeReading> three = two;
  three.push_back(read(found.further->reticle, found.further->micrometer));
  const double after = calibrated(three, conditions, scale).reading_uncertainty;
  CHECK(within(after / found.further->improved_uncertainty, 1.0, 0.2));
  CHECK_FALSE(calibrated({read(0, 0), read(50, 51), read(97, 99)}, conditions, scale).further.has_value());
}

TEST_CASE("series with the slide moved share the slope and keep their offsets") {
  const ReticleCalibration found =
      calibrated({read(0, 0), read(50, 52), read(0, 40, 1), read(50, 92, 1), read(25, 66, 1)});
  CHECK(within(found.um_per_division.value, 10.4, 0.02));
  CHECK(found.chi_squared_freedom == 2);
}

TEST_CASE("a length adds the reading of both ends to the factor's uncertainty") {
  const CalibrationFactor factor{10.0, 0.02, 2.0};
  const ReticleLength length = reticle_length(42.5, factor);
  CHECK(within(length.value, 425.0, kRounding));
  CHECK(
      within(length.expanded_uncertainty, 2.0 * std::hypot(std::sqrt(2.0 / 3.0) * 0.1 * 10.0, 42.5 * 0.01), kRounding));
}

TEST_CASE("a zoom setting lies between two calibrated ones, with what that adds") {
  const std::vector<ZoomSetting> settings = {
      {4.0, {2.52, 0.004, 2.0}}, {1.0, {10.0, 0.02, 2.0}}, {2.0, {5.02, 0.01, 2.0}}};
  const auto between = interpolate_zoom(settings, 3.0);
  REQUIRE(between);
  CHECK(between->lower == 2.0);
  CHECK(between->upper == 4.0);
  const double share = std::log(1.5) / std::log(2.0);
  CHECK(within(between->um_per_division.value, (10.04 + share * 0.04) / 3.0, kRounding));
  CHECK(within(between->added, std::log(10.08 / 10.04) / std::sqrt(3.0), kRounding));
  CHECK(between->um_per_division.expanded_uncertainty > 2.0 * between->added * between->um_per_division.value);
  CHECK(interpolate_zoom(settings, 3.0, 0.02)->added > 0.011);
  CHECK_FALSE(interpolate_zoom(settings, 0.5).has_value());
  CHECK_FALSE(interpolate_zoom(settings, 4.5).has_value());
  CHECK_THROWS_AS(interpolate_zoom({{0.0, {1.0, 0.1, 2.0}}}, 1.0), std::invalid_argument);
}
