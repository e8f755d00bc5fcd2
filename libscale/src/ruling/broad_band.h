// Does a band broader than a base line lie across the spaces between blurred lines, or just beyond their ends?
//
// Short graduations that are blurred into one another leave such a band, and the longer ones that stick out of it look
// like a scale with a thick base line. A base line is about as broad as a graduation.
#pragma once

#include <scale/image.h>

#include "ruling/graduations.h"

namespace scale {

// `contrast` of the lines, grey values.
bool broad_band(const ImageView& image, const Graduations& graduations, double contrast);

}  // namespace scale
