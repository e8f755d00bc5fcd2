// A plain, tidy scene with one line scale, and how scales are laid into the frame.
#pragma once

#include "micrograph/random.h"
#include "micrograph/scene.h"

namespace micrograph {

struct Tidy {
  double angle_deg = 0.0;
  double pitch_low = 8.0, pitch_high = 110.0;
  int least_in_view = 6;
  bool whole = false;  ///< all graduations in view; otherwise the scale may run out of the frame
};

/// Length of the line through the middle of the frame at this angle.
double chord_px(const Scene& scene, double angle_deg);

/// Frame size, ground, noise and a line scale of random pitch, width, levels and place.
Scene tidy_scene(const Tidy& tidy, Random& random);

/// Places a scale whose pitch, lengths and angle are set: count and origin. `across` is the distance of its middle
/// from the frame's middle.
void lay(const Scene& scene, LineScale& scale, int least_in_view, bool whole, double across, Random& random);

}  // namespace micrograph
