// A room for the tests: a lab file and pictures of its scale.
#pragma once

#include <string>

#include "documents.h"
#include "scenes.h"

namespace cli_test {

// One certified scale and two set-ups, whose nominal factors 10/14.5 and 10/20 um per pixel are those of the pictures
// ruling_bmp makes with these pitches.
inline const std::string kRoom = R"(schema = 1
[room]
temperature = { value = "21 degC", limits = "2 degC" }
[[scale]]
name = "SM-A"
division = "10um"
divisions = 100
calibrated = 2025-03-04
recalibrate_by = 2028-03-04
expanded_uncertainty = "0.15um"
[[setup]]
name = "wool-10x"
images = ["10x/*"]
scale = "SM-A"
objective = { magnification = 10, aperture = 0.25 }
pixel_pitch = "6.9um"
image_size = [640, 360]
refocused = true
tolerance = "0.5 %"
[[setup]]
name = "wool-14x"
images = ["14x/*"]
scale = "SM-A"
objective = { magnification = 14, aperture = 0.25 }
pixel_pitch = "7um"
)";

inline const std::string kDay = "2026-02-28T09:30:00Z";

inline std::string scale_of_pitch(double pitch_px, std::uint64_t seed) {
  Ruling ruling;
  ruling.pitch_px = pitch_px;
  ruling.noise_seed = seed;
  return ruling_bmp(ruling);
}

// Two shots of the first set-up and one of the second.
inline void furnish(const TemporaryFolder& folder, const std::string& lab = kRoom) {
  write_file(folder / "lab.toml", lab);
  write_file(folder / "10x/a.bmp", scale_of_pitch(14.5, 1));
  write_file(folder / "10x/b.bmp", scale_of_pitch(14.5, 2));
  write_file(folder / "14x/a.bmp", scale_of_pitch(20.0, 3));
}

inline Finished calibrate_room(const TemporaryFolder& folder, std::vector<std::string> more = {}) {
  std::vector<std::string> arguments = {"calibrate", ".", "--recursive", "--lab", "lab.toml"};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return gradus(arguments, {folder.path(), false, ""});
}

inline Finished record_room(const TemporaryFolder& folder, std::vector<std::string> more = {}) {
  std::vector<std::string> arguments = {"--record", "--operator", "A. Tester", "--at", kDay};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return calibrate_room(folder, arguments);
}

inline Finished in_register(const TemporaryFolder& folder, std::vector<std::string> arguments) {
  arguments.insert(arguments.begin(), "register");
  return gradus(arguments, {folder.path(), false, ""});
}

inline std::string with(std::string text, const std::string& what, const std::string& instead) {
  const std::size_t at = text.find(what);
  REQUIRE(at != std::string::npos);
  return text.replace(at, what.size(), instead);
}

}  // namespace cli_test
