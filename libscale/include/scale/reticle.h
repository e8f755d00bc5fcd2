// What one division of an eyepiece reticle is worth in micrometres, from readings by eye against a stage micrometer.
//
// Model.       In series s the reticle lies along the micrometer: X_i = c_s + f E_i, X_i the certified position of the
//              micrometer's graduation S_i, E_i the reading on the reticle. f is the same in all series.
// Method.      Straight line with errors in both variables (ISO/TS 28037:2010, clause 7). Two whole readings are a
//              coincidence: the lines look like one while they lie within +- `coincidence`, rectangular, half of its
//              variance on either scale. A fraction is estimated to +- `estimate` of its own scale's division.
//              Neighbouring coincidences (33=34 34=35 35=36) are one finding, the place where the lines cross; they
//              count once, by their middle. The same pair read again in another series repeats the same misfit of the
//              two scales, so that repeats of a coincidence do not make it better.
//              Misfits of lines that lie evenly are not independent: the uncertainty is at least that of all slopes
//              for which every pair still looks like one line.
// Limits.      Two readings cannot show a miscount; readings by eye cannot tell distortion of the eyepiece.
// Source.      Defaults and their reasons: docs/uncertainty.md.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <tl/expected.hpp>
#include <vector>

#include <scale/failure.h>
#include <scale/setup.h>

namespace scale {

// "33=34": the line 33 of the reticle lies on graduation 34 of the micrometer. In divisions, from the zero lines.
struct EyeReading {
  double reticle = 0.0, micrometer = 0.0;
  bool reticle_estimated = false, micrometer_estimated = false;  // a fraction of a division was estimated there
  int series = 0;                                                // readings taken without moving the slide
};

// "33=34", as the eye counted; an estimated fraction keeps its point: "33.0=34".
std::string reading_words(const EyeReading& reading);

struct ReadingConditions {
  // Limits (+-) within which two lines look like one; absent: half the micrometer's line width or, where that is less
  // or not stated, a twentieth of the coarser division (judgement).
  std::optional<Micrometres> coincidence;
  std::optional<Micrometres> line_width;  // of the micrometer
  double estimate = 0.1;                  // limits (+-) of an estimated fraction, divisions of its own scale
  double parallax = 0.0;                  // limits (+-) by which a moving eye shifts a reading, reticle divisions
  int reticle_divisions = 0;              // of the whole reticle; 0: not stated
};

struct ReadingResidual {
  double residual_um = 0.0;     // micrometer minus line, at the object
  double uncertainty_um = 0.0;  // standard, of the reading itself
  bool used = true;             // false: `remark` says why
  std::string remark;           // also "one finding with its neighbours, 33=34 to 35=36"; empty: nothing
};

// A pair of lines that should coincide and would improve the result most.
struct FurtherReading {
  int reticle = 0, micrometer = 0;
  double improved_uncertainty = 0.0;  // standard, of the readings alone, with it
  bool coincides = true;              // false: the reticle line lies between two graduations; estimate the fraction
};

struct ReticleCalibration {
  CalibrationFactor um_per_division;
  double reading_uncertainty = 0.0;  // standard, of the readings alone
  double degrees_of_freedom = 0.0;   // effective
  bool budget_complete = false;
  std::vector<BudgetLine> budget;  // contributions in micrometres per division
  std::vector<ReadingResidual> readings;
  double chi_squared = 0.0;  // of the used readings about their line
  int chi_squared_freedom = 0;
  std::optional<FurtherReading> further;  // absent: none would improve the result by 5 %
  std::vector<Warning> warnings;
};

// `conditions` absent: the budget holds the readings and the reference scale alone.
// Failure codes: too-few-readings, equal-readings, non-monotone, beyond-scale, inconsistent-readings.
// Throws std::invalid_argument for conditions or a scale out of range.
tl::expected<ReticleCalibration, Failure> calibrate_reticle(std::span<const EyeReading> readings,
                                                            const ReferenceScale& scale,
                                                            const ReadingConditions& reading,
                                                            const std::optional<SetupConditions>& conditions = {});

// A length with its expanded uncertainty, micrometres.
struct ReticleLength {
  double value = 0.0, expanded_uncertainty = 0.0, coverage_factor = 2.0;
};

// `divisions` on the reticle, the difference of two readings each good to +- `estimate` divisions.
ReticleLength reticle_length(double divisions, const CalibrationFactor& um_per_division, double estimate = 0.1);

// A calibrated zoom setting.
struct ZoomSetting {
  double zoom = 0.0;
  CalibrationFactor um_per_division;
};

struct InterpolatedZoom {
  CalibrationFactor um_per_division;
  double lower = 0.0, upper = 0.0;  // the calibrated settings it lies between
  double added = 0.0;               // standard, relative: what interpolation adds
};

// Between neighbouring settings. factor x zoom is constant in an ideal zoom; here it runs straight in log(zoom) from
// one setting to the next, and its whole change between them is taken as limits (+-) of what it may be off in between.
// `setting` are limits (+-, relative) of how well the ring is set again. Absent when `zoom` is not between two
// settings. Throws std::invalid_argument for settings that are not positive.
std::optional<InterpolatedZoom> interpolate_zoom(std::vector<ZoomSetting> settings, double zoom, double setting = 0.0);

}  // namespace scale
