// What a pixel is worth, for `measure`: from the command line or from the register.
#pragma once

#include <scale/measurement.h>
#include <scale/register.h>
#include <scale/setup.h>

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "lab_room.h"

namespace gradus {

struct FactorOptions {
  double um_per_pixel = 0.0;                   // 0: from the register
  std::optional<double> relative_uncertainty;  // expanded, k = 2, of that
  std::string lab;                             // lab file; the register lies beside it
  std::string setup;
  bool accept_overdue = false;
  bool binning = false;  // pictures of an exact half, third or quarter of the size are binned
};

// The factor of one set-up, or why there is none.
struct FactorInUse {
  std::string setup;  // empty: from the command line
  scale::LengthScale scale;
  scale::CalibrationFactor um_per_pixel;
  bool stated = true;                            // its uncertainty is known
  std::int64_t record = 0;                       // of the calibration; 0: none
  std::optional<std::array<int, 2>> image_size;  // pixels it holds for
  std::optional<double> aperture;                // of the objective
  double gamma = 0.0;                            // of the pictures, as the lab file has it; 0: not known
  double blur_px = 0.0;                          // of the scale's own edges; 0: not known
  std::string due;                               // day; empty: not stated
  bool overdue = false;
  std::optional<scale::Failure> failure;
};

FactorInUse factor_of_command_line(const FactorOptions& options);

// One a set-up of the lab file. `today` decides what is overdue. A register that cannot be read: `problem` says why.
std::vector<FactorInUse> factors_of_register(const LabRoom& room, const FactorOptions& options,
                                             const std::string& today, std::string& problem);

// The factor for a picture of this size, or why it cannot be used: another size than it was calibrated with.
scale::Registered<scale::LengthScale> scale_for(const FactorInUse& factor, int width, int height, bool binning);

}  // namespace gradus
