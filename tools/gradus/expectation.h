// Does a factor agree with the one the objective's engraving lets expect?
#pragma once

#include <optional>

#include <scale/failure.h>
#include <scale/units.h>

namespace gradus {

// `division-doubtful` when the factor found is off by a plain number, as by a division mistaken for another;
// `off-expected` when it is off by more than 10 % otherwise; nothing when it agrees.
std::optional<scale::Warning> compare_with_expected(scale::MicrometresPerPixel found,
                                                    scale::MicrometresPerPixel expected, scale::Micrometres division);

}  // namespace gradus
