// What a rendered picture shows, exactly. Positions are pixels of the stored picture, after resampling.
#pragma once

#include <string>
#include <vector>

#include "micrograph/scene.h"

namespace micrograph {

struct TruthLine {
  int number = 0;  ///< of the graduation, from its scale's zero
  double x = 0.0;  ///< centre of the line, in the middle of its part in view
  double y = 0.0;
  double position = 0.0;    ///< signed distance along the axis's direction, mean over the part in view
  double visible_px = 0.0;  ///< length of that part
  double error_px = 0.0;    ///< graduation error, in the rendered frame
  bool broken = false;
};

/// One ruling in the picture.
struct TruthAxis {
  double direction_deg = 0.0;  ///< perpendicular to the graduations, in (-90, 90]
  /// Distance along the direction between the first and the last graduation in view, graduation errors left out, on
  /// the line v = const of the scale's frame that runs through the middle of what is in view, over the number of
  /// divisions between them. Without distortion or tilt that is the pitch everywhere.
  double pitch_px = 0.0;
  /// The same from positions averaged over each graduation's part in view, by least squares.
  double mean_pitch_px = 0.0;
  double line_width_px = 0.0;
  double pair_offset_px = 0.0;
  std::vector<TruthLine> lines;  ///< in view: middle of the visible part 3 px or more inside, 5 px or more long
  std::vector<int> missing;      ///< numbers of graduations that would be in view had they been drawn
};

/// A body as it was drawn, whole or cut by the frame. Lengths in pixels.
struct TruthBody {
  bool fibre = false;
  double x = 0.0, y = 0.0;    ///< a grain's centroid; of a fibre the middle of its centre line in view
  bool at_border = false;     ///< some of it lies beyond the frame
  double width_px = 0.0;      ///< of a fibre: mean over its centre line in view; of a grain its least Feret diameter
  double length_px = 0.0;     ///< of a fibre: tip to tip along the centre line; only its part in view when it is cut
  double feret_max_px = 0.0;  ///< the rest of grains: of the whole outline
  double area_px2 = 0.0, perimeter_px = 0.0;
  std::vector<double> points;  ///< as in Body
};

struct Truth {
  std::string name;  ///< of the scene's class
  std::uint64_t seed = 0;
  int width = 0;
  int height = 0;
  int bits = 8;
  int jpeg_quality = 0;
  Polarity polarity = Polarity::dark_on_bright;
  bool distorted = false;  ///< the pitch changes over the field
  double blur_px = 0.0;    ///< root mean square of all blur along the first axis, without the pixel
  double contrast = 0.0;
  double amplitude = 0.0;  ///< light missing (or added) in a wide line, full scale = 1
  double noise_sd = 0.0;   ///< of one linear sample half-way between dark and bright, quantisation left out
  std::vector<TruthAxis> axes;
  std::vector<TruthBody> bodies;  ///< of which some part is in view
};

Truth truth_of(const Scene& scene);

/// Five graduations or more in view on the first axis and no JPEG below quality 60.
bool is_fair(const Truth& truth);

/// Standard deviation of the noise of a linear sample of this value, quantisation left out.
double noise_sd(const Scene& scene, double linear);

}  // namespace micrograph
