// The JSON document of `calibrate`, gradus/calibration/1: docs/formats.md, docs/schema/calibration-1.schema.json.
#pragma once

#include <string>
#include <vector>

#include "reticle_outcome.h"
#include "setups.h"

namespace gradus {

// UTF-8, numbers unrounded, the same in every locale.
// `setups` stand in it when there was a lab file; with a reticle `verdicts`, one an image that could be read.
std::string calibration_json(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups = {},
                             const std::vector<ReticleOutcome>& verdicts = {}, bool with_setups = false);

}  // namespace gradus
