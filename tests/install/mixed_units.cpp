// Compiled once for each mistake, which must fail, and once without, which must not.
#include <scale/units.h>

using namespace scale;

Micrometres sum(Micrometres length, [[maybe_unused]] Pixels size) {
#ifdef ADD_MICROMETRES_AND_PIXELS
  return length + size;
#else
  return length + Micrometres{1.0};
#endif
}

bool shorter(Micrometres length, [[maybe_unused]] Pixels size) {
#ifdef COMPARE_MICROMETRES_AND_PIXELS
  return length < size;
#else
  return length < Micrometres{1.0};
#endif
}

Micrometres as_length([[maybe_unused]] Pixels size) {
#ifdef PIXELS_FOR_MICROMETRES
  return size;
#else
  return MicrometresPerPixel{0.5} * size;
#endif
}
