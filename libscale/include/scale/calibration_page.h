// The sheet of a calibrated set-up: what an auditor asks for, on paper.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include <scale/lab.h>
#include <scale/report.h>

namespace scale {

struct ResidualPoint {
  double position_um = 0.0;     // nominal place on the scale
  double deviation_um = 0.0;    // from an even division, along the scale
  double uncertainty_um = 0.0;  // standard
  bool used = true;             // false: left out of the fit
};

struct RulingResiduals {
  std::string name;       // of the shot
  char direction = 'x';   // of the picture
  bool numbered = false;  // positions count from graduation 0 of the scale; else from the first graduation seen
  std::vector<ResidualPoint> points;
  std::vector<Correction> certified;  // less a straight line over the part in view, as the points are
};

// Mean grey value along the axis of a ruling, and its amplitude spectrum.
struct LineProfile {
  std::string name;
  char direction = 'x';
  double pitch_px = 0.0;  // found
  std::vector<double> position_px, grey;
  std::vector<double> frequency, amplitude;  // 1/px; grey values
};

// Factor of a part of the field, relative to that of the whole ruling, at a place of the picture.
struct LocalScale {
  double x_px = 0.0, y_px = 0.0;
  char direction = 'x';
  double deviation = 0.0, uncertainty = 0.0;  // relative; standard
};

struct HistoryPoint {
  std::int64_t record = 0;
  std::string made_at;
  double value = 0.0, expanded_uncertainty = 0.0;  // of the factor
  std::string state;                               // "current", "superseded", "withdrawn"
};

struct SheetShot {
  std::string image, sha256;  // of its file; empty: not recorded
  char direction = 'x';
  double um_per_pixel = 0.0, fit_uncertainty = 0.0, weight = 0.0;
  bool used = true;
  std::string reason;     // why not
  std::string numbering;  // "40 to 82"; empty: not known
};

// Which line of a reticle was seen on which graduation of the micrometer.
struct SheetReading {
  int series = 1;                                  // readings taken without moving the slide
  std::string words;                               // "33=34"
  double place_um = 0.0;                           // of the graduation on the micrometer, nominal
  double residual_um = 0.0, uncertainty_um = 0.0;  // micrometer minus line; standard
  bool used = true;
  std::string remark;  // why not, or what it is one finding with
};

// Readings of a reticle by eye, and what they say of themselves.
struct SheetReadings {
  std::vector<SheetReading> list;
  double chi_squared = 0.0, reading_uncertainty = 0.0;  // the latter standard, of the readings alone, µm per division
  int chi_squared_freedom = 0;
};

struct SeenScale {
  int lines = 0;  // that carry the fit
  double pitch_px = 0.0;
};

// The picture through the eyepiece that a reticle was calibrated from.
struct EyepiecePicture {
  std::string file, sha256;                                // as given; of the file
  std::optional<SeenScale> micrometer = {}, reticle = {};  // absent: not recorded
};

// What was stated where there is no lab file.
struct StatedScales {
  ReferenceScale reference;
  int reticle_divisions = 0;  // of the whole reticle; 0: not stated, or no reticle
};

// Of a camera, or of a reticle, from readings by eye or from one picture: then the factor is per division.
struct CalibrationSheet {
  std::string title;  // of the set-up, or of the image
  std::string room, laboratory, address;
  std::optional<LabSetup> setup;  // absent without a lab file
  std::optional<LabScale> scale;
  StatedScales stated;                          // without a lab file
  CalibrationFactor factor;                     // micrometres per pixel or per division
  std::optional<CalibrationFactor> reciprocal;  // of a camera
  double degrees_of_freedom = 0.0;              // effective; infinite when not finite
  bool budget_complete = false;
  std::optional<CalibrationFactor> x, y;
  std::optional<double> nominal;       // of the factor
  std::optional<HistoryPoint> before;  // the calibration that was current before this one
  std::vector<BudgetLine> budget;
  std::vector<SheetShot> shots;
  int width = 0, height = 0;                        // of the shots, pixels
  std::string separation;                           // what was found about optics and scale; empty: nothing
  std::optional<SheetReadings> readings;            // of a reticle read by eye
  std::optional<EyepiecePicture> eyepiece_picture;  // of a reticle, instead of readings
  std::vector<PagePicture> pictures;
  std::vector<RulingResiduals> residuals;
  std::vector<LineProfile> profiles;
  std::vector<LocalScale> field;
  std::vector<HistoryPoint> history;
  std::vector<Warning> flags, warnings;
  std::string accepted;              // why flags were let pass
  std::string calibrated;            // day, "2026-02-28"
  std::string due;                   // day; empty: not stated
  std::optional<PageRecord> record;  // absent: not in the register
  std::optional<ChainState> chain;
};

std::string calibration_page(const CalibrationSheet& sheet, const PageStyle& style);

}  // namespace scale
