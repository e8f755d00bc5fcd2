// The factor of a set-up: one fixed optical state, from several shots of one reference scale, with its whole budget.
//
// Model. Every ruling of every shot gives a factor f_j along x or along y of the picture, whichever is nearer. Per
// direction the factor is their weighted mean, w_j from the fit's uncertainty and the scatter between shots; the
// set-up's factor is the mean of the two directions, or the one that was seen. The lengths of the scale hold at the
// temperature of its certificate; f is brought to the temperature of the room, f (1 + alpha (T - T_certificate)). A
// slide that slopes makes f too large and never too small: f is multiplied by the mean cosine of the slope, sin(L) / L
// for an angle with even probability within L.
// Where shots with the scale moved between them show that the optics distort, the factor is the mean over the
// measuring area instead of over what the scale covered.
//
// Components and the source of each default: docs/uncertainty.md. What is neither stated nor seen stays in the budget
// as not stated, and `budget_complete` is false.
//
// Limits. One scale lies under all shots, so its certificate and, without corrections, its graduation errors are taken
// as errors that all shots share: more shots do not make them smaller.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <scale/calibration.h>

namespace scale {

struct Shot {
  std::string name;
  Reading reading;  // must hold at least one ruling
  ShotHints hints;
  int width = 0, height = 0;  // of the whole picture, pixels
};

struct RoomTemperature {
  double value = 0.0, limits = 0.0;  // degrees Celsius: value +- limits
};

// The part of the field the factor is for, in pixels of the whole picture.
struct MeasuringArea {
  double x = 0.0, y = 0.0, width = 0.0, height = 0.0;
};

// Components a laboratory states from its own knowledge; absent: from the shots, or the default. Shares of the factor:
// limits (+-), save repeatability, which is the standard uncertainty of one shot.
struct StatedComponents {
  std::optional<double> repeatability, field, x_y_difference, refocusing;
  std::optional<Radians> slope;  // the slide lies within +- this out of the plane of focus
};

struct SetupConditions {
  std::optional<double> magnification, aperture;  // of the objective
  std::optional<RoomTemperature> room;
  std::optional<MeasuringArea> measuring_area;  // absent: the whole picture
  bool refocused_between_shots = false;         // then the scatter between shots holds the refocusing
  StatedComponents stated;
};

// What one ruling of one shot said.
struct ShotFactor {
  std::size_t shot = 0;       // place in the list of shots
  char direction = 'x';       // 'x' or 'y': the axis of the picture it lies nearer to
  double um_per_pixel = 0.0;  // at the room's temperature, the mean shortening by slope taken out
  double fit_uncertainty = 0.0;
  double weight = 0.0;  // among the used ones of its direction
  bool used = true;
  std::string reason;  // why it was not used
  Numbering numbering;
};

// Shots with the scale moved by several divisions tell the optics' distortion, which stays with the picture, from the
// scale's graduation errors, which move with it: a radial term r (1 + kappa (r / R)^2), R half the picture's diagonal.
struct Separation {
  bool done = false;
  std::string reason;               // why it was not done
  double kappa = 0.0;               // relative
  double kappa_uncertainty = 0.0;   // standard
  double p_value = 1.0;             // of the F-test for it
  bool significant = false;         // at 1 %
  double optics_max_um = 0.0;       // largest departure from an even scale over the measuring area
  double graduations_rms_um = 0.0;  // of the graduations from the positions that were used for them
  int shots = 0;
};

struct SetupCalibration {
  CalibrationFactor um_per_pixel, pixels_per_um;
  std::optional<CalibrationFactor> x, y;  // along one direction alone, without the x-y difference
  double fit_uncertainty = 0.0, fit_degrees_of_freedom = 0.0;
  double degrees_of_freedom = 0.0;  // effective
  bool budget_complete = false;
  std::vector<BudgetLine> budget;
  std::vector<ShotFactor> shots;
  Separation separation;
  std::vector<Warning> warnings;
};

// Throws std::invalid_argument when there is no shot, a shot has no ruling, or the scale is unsound.
SetupCalibration calibrate_setup(std::span<const Shot> shots, const ReferenceScale& scale,
                                 const SetupConditions& conditions);

// The same budget by JCGM 101: expansion, temperature and slope through the model itself, the rest as shares.
MonteCarlo propagate(const SetupCalibration& calibration, double certificate_temperature, std::size_t trials,
                     std::uint64_t seed);

// Relative standard uncertainty of the scale's lengths by the room's temperature and by its own expansion, as in the
// budget; 0 where the room's temperature is not stated.
double temperature_uncertainty(const ReferenceScale& scale, const SetupConditions& conditions);

// What the engravings let expect: pixel pitch x binning / (objective x relay x zoom).
MicrometresPerPixel nominal_factor(Micrometres pixel_pitch, int binning, double objective, double relay = 1.0,
                                   double zoom = 1.0);

}  // namespace scale
