// What else of a check shot has changed since the calibration: it tells what was touched, and decides nothing.
// Internal.
#pragma once

#include <scale/drift.h>

namespace scale::drift {

void add_touched(Judgement& judgement, const Shot& shot, const RegisteredSetup& own);

}  // namespace scale::drift
