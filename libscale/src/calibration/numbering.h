// Which graduation of the scale is which line of the picture.
//
// Method.  A numbering is first + step * index with step +1 or -1. Every one that fits on the scale is a candidate;
//          what is seen strikes candidates out:
//            lengths     the long graduations must fall on multiples of ReferenceScale::long_every;
//            free ends   on which side long graduations reach further than short ones tells the step, when the scale
//                        says where they point;
//            end lines   empty picture beyond the first or the last line makes it an end of the scale;
//            a person    ShotHints::centre and ShotHints::numbers_run, which goes before the free ends.
//          Exactly one left: known. Otherwise the reason says what is missing.
// Limits.  Lines that were hidden by dirt, or not followed, for three divisions look like an end. An end is therefore
//          believed only where a long graduation stands at it, or where both ends and the number of divisions agree,
//          and never against all else.
#pragma once

#include <scale/calibration.h>

namespace scale::calibration {

// `width` and `height` are of what was looked at, in pixels. Needs the number of divisions.
Numbering number_graduations(const Ruling& ruling, int width, int height, const ReferenceScale& scale,
                             const ShotHints& hints);

}  // namespace scale::calibration
