// What of all that was outlined is a body to be measured, what must be told of the rest, and why there is nothing.
#pragma once

#include <optional>

#include <scale/specimen.h>

#include "image/frame.h"
#include "specimen/silhouettes.h"

namespace scale {

// The picture without a border of even colour that software drew round it.
cv::Rect without_drawn_frame(const ImageView& image);

std::optional<Failure> unusable_samples(const ImageView& image);

// Why there is nothing to outline; none when there is.
std::optional<Failure> no_bodies(const ImageView& image, const FrameStatistics& frame, const Silhouettes& shapes,
                                 int most);

// Median of the blurs of their edges, pixels; 0 of none.
double typical_blur(const std::vector<Body>& bodies);

// What in the picture as a whole makes results doubtful: exposure and focus.
void warn_of_picture(SpecimenReading& reading);

struct LeftOut {
  int specks = 0;            // too small
  int hidden = 0;            // no clear edge against the ground
  int bundles = 0;           // stretches where fibres lie side by side
  int drawn = 0;             // marks of software
  double other_share = 0.0;  // of what stands out that has the other tone
};

// Takes out unresolved bodies, doubles and, among fibres, small ones; corrects narrow fibres;
// puts the bodies in order, top to bottom; warns of what was left out and of what makes the rest doubtful.
void judge(SpecimenReading& reading, const SpecimenOptions& options, LeftOut left_out);

}  // namespace scale
