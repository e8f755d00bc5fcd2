// What cameras and their software do to a picture before it is stored.
#pragma once

#include "sensor.h"

namespace micrograph {

/// Leaves at each pixel of an RGB picture only the channel that an RGGB colour mosaic passes, as one channel.
void keep_mosaic(Samples& samples);

/// Makes three channels again: the mean of the nearest neighbours of each colour.
void fill_mosaic(Samples& samples);

/// Unsharp mask: adds `amount` times the difference from a Gaussian blur of this standard deviation.
void sharpen(double amount, double sigma, Samples& samples);

/// Keys' cubic kernel (a = -1/2), widened when the picture shrinks. Position x of the old picture comes to
/// (x + 1/2) factor - 1/2 of the new one; the new size is rounded down.
Samples resample(const Samples& samples, double factor);

}  // namespace micrograph
