// What one image came to, without its pixels: all that table, JSON and CSV need.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <scale/drift.h>
#include <scale/reticle_picture.h>
#include <scale/setup.h>

namespace gradus {

// What a ruling says in pixels; the micrometres stand in Calibration::axes at the same place.
struct AxisOutcome {
  double direction_deg = 0.0;
  double pitch_px = 0.0;
  double pitch_fit_uncertainty_px = 0.0;  // standard
  int graduations = 0;                    // that carry the fit
  int missing = 0;
  double false_alarm = 1.0;
};

struct Outcome {
  std::string image;  // the path as given
  double division_um = 0.0;
  std::optional<scale::Calibration> calibration;  // absent: refused, for `reason`
  std::vector<AxisOutcome> axes;
  // When a reticle was asked for: its division; `calibration` is then the micrometer's, its axes micrometer and
  // reticle.
  std::optional<scale::ReticlePicture> reticle;
  std::string setup;                // name; empty without a lab file
  std::optional<scale::Shot> shot;  // when calibrated, with a lab file or for pages: what was found of every graduation
  std::string sha256;               // of the file, when it is wanted for the register or for pages
  scale::FileStatement file;        // what the file says of itself, likewise
  scale::Failure reason;
  std::vector<scale::Warning> warnings;  // of the file, the reading, the calibration and the tool, in that order
  std::string picture_problem;           // why the picture of --pictures could not be written; else empty

  bool unreadable() const { return !calibration && reason.code == "unreadable"; }
};

}  // namespace gradus
