// Is this the ruling of a scale? What text, cloth, brickwork, tiles and rings fail, although parts of them are even.
//
// An evenly divided scale shows unbroken straight lines of one width and contrast, in one direction, on a ground that
// is the same between all of them. Each gate states one of these and the reason code it refuses with.
#pragma once

#include <optional>

#include <scale/failure.h>
#include <scale/image.h>

#include "ruling/graduations.h"
#include "ruling/line_fit.h"

namespace scale {

std::optional<Failure> implausible(const ImageView& image, const Graduations& graduations, const LineFit& fit,
                                   double noise);

}  // namespace scale
