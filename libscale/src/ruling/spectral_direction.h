// Directions of what repeats evenly: peaks of the two-dimensional power spectrum.
//
// A dense grid that is a little out of focus has gradients in all directions, and lines fainter than the noise have
// none that stand out; both are a sharp peak of the spectrum. Mean power of a few windowed parts of the picture at full
// resolution, each frequency against the median of those of its length (Welch's method; the false-alarm rate of a bin
// that is so many times the median is 2^-m for one part, less for the mean of several).
#pragma once

#include <vector>

#include <scale/image.h>

namespace scale {

// Radians, in (-pi/2, pi/2], of the axes along which lines may be spaced, strongest first; good to about half a degree.
// Periods from two pixels to an eighth of a part.
std::vector<double> spectral_directions(const ImageView& image);

}  // namespace scale
