// Which neighbours the windows of a ruling lack.
//
// Where lines run into one another the shared shape holds what its neighbours add to the flanks of a line. The first
// and the last line have one on one side only, lines beside an empty place as well, and longer ones none beyond the
// ends of the others: left in the shape, what is not there would draw them.
#pragma once

#include <functional>

#include "ruling/graduations.h"

namespace scale {

// Tells every window, by `around` what else is known there. Of neighbours that were not found, or lie outside the
// picture, the picture decides for each side of each line: what leaves less of its windows. False where one line alone
// is not known, or where that makes no difference.
bool tell_lacking(Graduations& graduations, const std::function<Surroundings(const LineWindow&)>& around);

}  // namespace scale
