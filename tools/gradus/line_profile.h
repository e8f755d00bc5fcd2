// Mean grey values along the axis of a ruling, and their spectrum: what a page shows of how the period was found.
#pragma once

#include <scale/calibration_page.h>

namespace gradus {

// `image` is the whole picture, `ruling` in its coordinates. The means are taken along the lines, where most of them
// were followed, at every pixel of the axis; the profile keeps its middle part, some twenty pitches, the spectrum (Hann
// window, amplitudes in grey values) is of the whole. Empty lists when the ruling has fewer than three lines.
scale::LineProfile line_profile(const scale::ImageView& image, const scale::Ruling& ruling);

}  // namespace gradus
