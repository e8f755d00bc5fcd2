// The JSON document of `calibrate`, gradus/calibration/1: docs/formats.md, docs/schema/calibration-1.schema.json.
#pragma once

#include <string>
#include <vector>

#include "outcome.h"

namespace gradus {

// UTF-8, numbers unrounded, the same in every locale.
std::string calibration_json(const std::vector<Outcome>& outcomes);

}  // namespace gradus
