// The lab file: the reference scales and the set-ups of a room, as a person writes them down (TOML 1.0).
//
// The keys, their units and which are required: docs/formats.md. What is not said is not assumed.
// Every mistake is a problem with its line and key; a lab with a problem is no lab, so that nobody calibrates by half
// of what was written.
#pragma once

#include <array>
#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <scale/setup.h>

namespace scale {

struct LabProblem {
  int line = 0;         // of the file, from 1; 0: of the file as a whole
  std::string key;      // "setup.wool-10x.relay"; empty for text that is no TOML
  std::string message;  // what is wrong, and what to write instead
};

struct LabScale {
  std::string name;
  ReferenceScale reference;
  std::string serial, certificate, laboratory;
  std::optional<std::chrono::year_month_day> calibrated, recalibrate_by;
  std::optional<Micrometres> line_width;
};

// What a person says of some shots: which place of the scale lies in the middle of the picture, which way it runs.
struct LabShots {
  std::string image;  // glob
  std::optional<Micrometres> centre;
  NumbersRun numbers_run = NumbersRun::unknown;
};

// A scale bar that is drawn into every picture of a set-up.
struct LabBar {
  std::array<int, 4> region{};  // it lies inside: left, top, width, height, of a picture of the calibrated size
  Micrometres length;           // that it stands for
};

struct LabSetup {
  std::string name;
  std::vector<std::string> images, check_images;  // globs
  std::size_t scale = 0;                          // place in Lab::scales
  bool reticle = false;                           // kind = "reticle": of an eyepiece, without a camera
  std::string microscope, camera, eyepiece;
  std::optional<double> relay, zoom;
  std::optional<Micrometres> pixel_pitch;
  std::optional<Micrometres> reticle_pitch;  // engraved length of a reticle division, in the eyepiece
  int reticle_divisions = 0;                 // 0: not stated
  double parallax = 0.0;                     // limits (+-) by which a moving eye shifts a reading, reticle divisions
  std::optional<double> zoom_setting;        // limits (+-), relative, of how well a zoom is set again
  int binning = 1;
  std::optional<std::array<int, 2>> image_size;
  bool mirrored = false;
  std::optional<double> gamma;  // of the camera's pictures: stored = light^(1/gamma); 1: in proportion to light
  std::vector<LabShots> shots;
  // Where ruled lines stand in every picture of it, [left, top, width, height]: looked for there, and only there, by
  // checks.
  std::optional<std::array<int, 4>> check_region;
  std::optional<LabBar> scale_bar;  // checks hold its length against the factor
  std::size_t check_base = 0;       // so many first check shots after a calibration are the agreed base period; 0: none
  std::optional<double> tolerance;  // relative: how far a factor may lie from the registered one, and U at most
  std::optional<int> recalibrate_every_days;
  // Relative: how far objective, relay and tube lens may be off what is engraved on them.
  double objective_tolerance = 0.05, relay_tolerance = 0.0, tube_lens_tolerance = 0.0;
  SetupConditions conditions;  // magnification, aperture, temperature, measuring area and stated components too

  // pitch x binning / (objective x relay x zoom); absent when pitch or objective is not stated. A relay or zoom that is
  // not stated counts as 1.
  std::optional<MicrometresPerPixel> nominal() const;
  // Of a reticle: reticle_pitch / (objective x zoom).
  std::optional<Micrometres> nominal_division() const;
};

struct Lab {
  std::string room;
  std::string laboratory, address;  // for the head of pages
  std::vector<LabScale> scales;
  std::vector<LabSetup> setups;
};

struct LabFile {
  std::optional<Lab> lab;            // absent when there is a problem
  std::vector<LabProblem> problems;  // in order of their line
};

LabFile parse_lab(std::string_view text);

// How stored grey values go with light: 1 of "linear", 2.2 of "srgb" (near enough to its curve). Nothing for another
// word.
std::optional<double> gamma_named(std::string_view word);
// A gamma beyond these is a slip.
inline constexpr double kLeastGamma = 0.2, kMostGamma = 5.0;

// Does `glob` (*, ?, [..]; a / is matched only by itself) match the path or one of its trailing parts? "10x/*" matches
// "shots/10x/a.png", "*_10x.*" any file whose name ends so.
bool matches_glob(const std::string& glob, const std::string& path);

// Places in Lab::setups of those that an image belongs to by its path; one, unless something is wrong. With
// `check_shots` an image that matches the check_images of a set-up belongs to it as well.
std::vector<std::size_t> setups_of(const Lab& lab, const std::string& path, bool check_shots = false);

// "2026-02-28" of a date that exists.
std::optional<std::chrono::year_month_day> parse_date(std::string_view text);

}  // namespace scale
