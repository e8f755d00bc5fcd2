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

struct Implausible {
  std::optional<Failure> failure;
  bool spots = false;   // it is that spots stand in rows where the lines should be,
  bool barely = false;  // or that the profiles of dense lines differ by little more than they may
};

Implausible implausible(const ImageView& image, const Graduations& graduations, const LineFit& fit, double noise,
                        double diagonal, int attempt);

// Do the distances or the lines themselves change more over the field than those of one scale do? One of the gates of
// `implausible`.
std::optional<Failure> too_distorted(const Graduations& graduations, const LineFit& fit, double diagonal);

// Do they lie less evenly than graduations do? Another one of the gates.
bool too_scattered(const LineFit& fit);

// May finer lines lie between these, lost in the blur? When these can still be counted that is no reason to refuse.
struct Blur {
  std::optional<Failure> failure;
  int parts = 1;       // finer ones that stand in the place of one
  bool seen = false;   // finer ones are seen, as a block
  bool aside = false;  // they may still be counted, when they show elsewhere
};

Blur blur_of(const ImageView& image, const Graduations& graduations);

}  // namespace scale
