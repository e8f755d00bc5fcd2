// The CSV of `calibrate`: one row an image, columns as in docs/formats.md.
#pragma once

#include <string>
#include <vector>

#include "setups.h"

namespace gradus {

// UTF-8, fields quoted where RFC 4180 asks for it, lines ended by a line feed; numbers unrounded.
std::string calibration_csv(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups = {});

}  // namespace gradus
