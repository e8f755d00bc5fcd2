// Bodies in a picture of a specimen: fibres and grains, found and outlined in pixels, then measured in micrometres.
//
// Purpose.  `find_bodies` gives every body its outline; `measure_bodies` (<scale/measurement.h>) makes lengths of it.
// Model.    A body stands out from a smooth ground, darker or brighter, solid or as a rim round a middle of the other
// tone.
//           Its edge is where the profile across it passes half of the local step, between the ground just outside and
//           what lies just inside (the rim, where there is one). Finding only says where to look: the outline does not
//           depend on the level at which bodies are found.
// Method.   Ground: robust polynomial plus a smooth remainder. Silhouettes at a share of the local contrast; centre
// lines by
//           thinning in the order of the distance to the edge; pieces joined across crossings by direction and width;
//           then profiles across the edge, averaged over a few pixels along it, and a straight line between samples at
//           the half level.
// Corrections. The half level of a blurred convex edge lies inside it by s^2/(2R) (s blur, R radius of curvature); of a
//           body or rim that is not wide against the blur it lies outside. Both are taken out with the blur of the
//           edges themselves, or the one given.
// Limits.   Narrower than two blurs: unresolved, not given. Where no ground is seen beside an edge (crossings, touching
//           bodies) nothing is measured. A profile that has no step at the edge of the body, as of a body whose
//           absorption rises slowly, is measured at half of what rises within a few blurs.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <scale/failure.h>
#include <scale/image.h>

namespace scale {

struct PixelPoint {
  double x = 0.0, y = 0.0;
};

enum class BodyKind { fibre, grain, across };
enum class BodyTone { either, dark, bright };
enum class BodyWanted { either, fibres, grains };

struct SpecimenOptions {
  BodyTone tone = BodyTone::either;        // of the bodies against the ground; either: the one that stands out more
  BodyWanted wanted = BodyWanted::either;  // either: told apart by shape; small bodies among fibres are then left out
  bool part = false;                       // separate grains that touch at their necks
  double edge_blur_px = 0.0;               // known blur (Gaussian standard deviation); 0: from the bodies' own edges
  double least_width_px = 6.0;             // narrower ones are dirt, counted and left out
  double finding_level = 0.4;  // share of the local contrast at which bodies are found; 0.25 to 0.6 give the same edges
};

// Edge to edge at one place of a fibre's centre line, or of a line of measurement.
struct LocalWidth {
  PixelPoint left, right;
  bool used = true;  // false: a crossing, an end, no ground beside it
};

struct Body {
  BodyKind kind = BodyKind::grain;
  PixelPoint at;                    // a grain's centroid; of a fibre or interval a point on its middle
  bool at_border = false;           // the frame cuts it
  bool rimmed = false;              // a rim round a middle of another tone
  bool round_edge = false;          // it goes on rising inwards, as of a round body that absorbs
  bool parted = false;              // some of the outline is a cut through a neck, not an edge
  bool necked = false;              // its outline draws in as where grains touch
  bool bubble_like = false;         // round with a dark edge and a bright middle, as a bubble of air
  bool line_inside = false;         // a fibre with a line or step of tone along its inside: a medulla, or two fibres
  bool line_beside = false;         // a thin fibre that a line like it follows: two sides of one, or two fibres
  bool crossed = false;             // other bodies lie over it; those places are left out
  bool end_hidden = false;          // an end of the fibre lies under or at another body: it may go on there
  std::vector<PixelPoint> outline;  // closed; of a fibre along its left edge and back along its right one
  std::vector<PixelPoint> centre;   // fibre: centre line from tip to tip
  std::vector<LocalWidth> widths;   // fibre: every pixel or so along the centre line
  double edge_blur_px = 0.0;        // Gaussian standard deviation of its edges, pixel and interpolation included
  double edge_noise_px = 0.0;       // standard uncertainty of an edge averaged over edge_length_px of its length
  double edge_length_px = 1.0;      // noise of edges further apart along the outline is independent
  double blur_correction_px = 0.0;  // what was taken off the half-level position of each edge, rim or narrow body
  double rim_doubt_px = 0.0;        // standard uncertainty of that: shape of a rim, want of focus, round edge
  double inside_level = 0.0, outside_level = 0.0;  // grey values either side of the edge, means
};

struct SpecimenReading {
  int width = 0, height = 0;
  std::vector<Body> bodies;
  std::optional<Failure> failure;  // set when there is nothing to measure: why
  std::vector<Warning> warnings;   // what was seen and left out, and what makes results doubtful
  double noise = 0.0;              // standard deviation of a sample, grey values
  double saturated_share = 0.0;
  double edge_blur_px = 0.0;  // median over the bodies
  bool bodies_dark = true;
};

// Deterministic. Throws std::invalid_argument for an empty view or options out of range; what the picture itself is to
// blame for is a Failure in the reading.
SpecimenReading find_bodies(const ImageView& image, const SpecimenOptions& options = {});

// Edges along the straight line from `from` to `to`, averaged over `band_px` across it; the intervals between
// neighbouring edges are the bodies (kind `across`), each with one LocalWidth.
SpecimenReading find_across(const ImageView& image, PixelPoint from, PixelPoint to, double band_px);

// Adds (dx, dy) pixels to every position: from a part of a picture to the whole.
void move_bodies(std::vector<Body>& bodies, double dx, double dy);

}  // namespace scale
