// Is everything in a result a number?
#pragma once

#include <scale/calibration.h>

#include <string>

namespace fuzz {

// Names the first value of a reading, and of the calibration it gives, that is not finite or not possible; empty when
// all are good. A reading holds rulings or a failure, never both or neither.
std::string what_is_wrong(const scale::Reading& reading);

}  // namespace fuzz
