// Is this the ruling of a scale? What text, cloth, brickwork, tiles and rings fail, although parts of them are even.
//
// An evenly divided scale shows unbroken straight lines of one width and contrast, in one direction, on a ground that
// is the same between all of them. Each gate states one of these and the reason code it refuses with.
//
// Every attempt at a picture is another chance for an accident: the more were made (`attempt`, from 1), the more alike
// the lines must be, and few or stumpy lines count in the first attempts only. `diagonal` is that of the whole picture,
// pixels.
#pragma once

#include <optional>

#include <scale/failure.h>
#include <scale/image.h>

#include "ruling/graduations.h"
#include "ruling/line_fit.h"

namespace scale {

std::optional<Failure> implausible(const ImageView& image, const Graduations& graduations, const LineFit& fit,
                                   double noise, double diagonal, int attempt);

// May finer lines lie between these, lost in the blur?
std::optional<Failure> too_blurred(const ImageView& image, const Graduations& graduations);

}  // namespace scale
