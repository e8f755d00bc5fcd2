// Everything a rendered micrograph is made of, as plain values. Lengths are in pixels of the rendered frame (before
// resampling), angles in degrees from +x towards +y (y down), intensities linear with 1 = full scale.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace micrograph {

enum class Polarity { dark_on_bright, bright_on_dark };
enum class Levels { all_equal, fifth_and_tenth, second_and_tenth };

struct Ground {
  double level = 0.75;    ///< the bright level, before shading
  double contrast = 0.6;  ///< dark level = level * (1 - contrast)
  Polarity polarity = Polarity::dark_on_bright;
};

/// Evenly spaced graduations. The scale's own frame has u along `angle_deg`, v a quarter turn further, its zero at
/// graduation 0. A one-sided graduation goes from v = 0 to its length, a two-sided one lies symmetrically about 0.
struct LineScale {
  double angle_deg = 0.0;  ///< direction along which graduations follow each other
  double pitch_px = 20.0;
  double origin_x = 40.0;  ///< of graduation 0
  double origin_y = 240.0;
  int count = 51;  ///< graduations, number 0 to count - 1
  double line_width_px = 5.0;
  Levels levels = Levels::fifth_and_tenth;
  double short_px = 60.0;
  double medium_px = 90.0;
  double long_px = 120.0;
  bool two_sided = false;
  double base_line_px = 0.0;         ///< width of the line along v = 0; 0 for none
  double numeral_px = 0.0;           ///< height of the numeral at every tenth graduation; 0 for none
  int fine_until = -1;               ///< graduations beyond this number are drawn only at the tenths; -1: all are drawn
  double pair_offset_px = 0.0;       ///< a second line beside each graduation, at this distance; 0 for none
  double amplitude = 1.0;            ///< share of the ground's contrast
  double amplitude_variation = 0.0;  ///< relative standard deviation from line to line
  double width_variation = 0.0;      ///< likewise
  double length_variation = 0.0;     ///< likewise
  double defocus_px = 0.0;           ///< Gaussian blur of its own, added in squares: it lies in another plane
  double error_sd_px = 0.0;          ///< graduation errors, drawn anew for every seed
  std::vector<double> errors_px;  ///< of graduation 0, 1, ..; these belong to the slide and are the same for any seed
  double missing_probability = 0.0;
  double broken_probability = 0.0;  ///< a broken line has one to three gaps
  std::vector<int> missing;         ///< these too
  std::vector<int> broken;
};

/// The blur happens in the plane of the object, before the relay's distortion.
struct Optics {
  double gaussian_px = 1.0;  ///< standard deviation; must be positive
  double disc_px = 0.0;      ///< radius of the disc of defocus
  double motion_px = 0.0;    ///< length of the smear
  double motion_angle_deg = 0.0;
  double relief_px = 0.0;  ///< adds this times the slope along relief_angle_deg: one flank brighter, one darker
  double relief_angle_deg = 0.0;
  double focus_gradient = 0.0;  ///< blur added in quadrature, pixels per half diagonal from the line of best focus
  double focus_angle_deg = 0.0;
};

/// The object's plane to the picture, about the middle of the frame; lengths in units of the half diagonal R.
struct Geometry {
  double magnification_x = 1.0;
  double magnification_y = 1.0;
  double tilt_x = 0.0;  ///< perspective: r -> r / (1 + tilt . r / R)
  double tilt_y = 0.0;
  double distortion = 0.0;   ///< radial: r -> r (1 + distortion (r / R)^2), after the above
  double lateral_red = 0.0;  ///< relative change of the magnification of a channel of a colour picture
  double lateral_blue = 0.0;
};

/// Factors on the light: 1 + linear + quadratic, times the corner's falling off.
struct Shading {
  double linear_x = 0.0;  ///< change from the middle to the edge of the frame
  double linear_y = 0.0;
  double quadratic = 0.0;     ///< change from the middle to the corner
  double quadratic_xy = 0.0;  ///< saddle
  double vignette = 0.0;      ///< cos^4-like loss at the corner, 0 to 1
  double mottle = 0.0;        ///< standard deviation of slow random unevenness
  double mottle_px = 150.0;   ///< its size
};

struct RoundField {
  bool on = false;
  double x = 0.0, y = 0.0, radius_px = 0.0;
  double softness_px = 2.0;
  double outside = 0.03;
};

struct Ring {
  double x = 0.0, y = 0.0, radius_px = 0.0;  ///< radius 0: no ring
  double width_px = 0.0;
  double amplitude = 1.0;  ///< share of the contrast; negative: the ring goes the other way than the lines
};

/// A fibre or grain that is measured: exact, drawn in the plane of the picture (no distortion, no disc, no smear).
/// Where bodies lie over each other their shares of the light multiply, as absorbing things do.
struct Body {
  bool fibre = false;
  /// x, y of one point after the other: a fibre's centre line, its ends round; a grain's outline, closed.
  std::vector<double> points;
  double width_px = 20.0;          ///< of a fibre
  double taper = 0.0;              ///< of a fibre: width at the end minus at the start, share of the width
  double scales = 0.0;             ///< of a fibre: amplitude of a wavy width, share of the width
  double scales_period_px = 60.0;  ///< its period along the fibre
  double amplitude = 1.0;          ///< share of the ground's contrast
  double rim_px = 0.0;             ///< 0: solid; else only a rim of this width takes the amplitude
  double middle = 0.0;             ///< within a rim: share of the contrast; negative goes the other way than the rim
};

/// Things that lie on the slide or were drawn over the picture.
struct Clutter {
  int dirt = 0;  ///< specks, some far out of focus
  int scratches = 0;
  int fibres = 0;
  int texts = 0;          ///< drawn over the finished picture, sharp
  int bars = 0;           ///< likewise: scale bars, arrows, frames
  double strength = 0.8;  ///< of dirt, scratches and fibres, share of the bright level
};

struct Colour {
  int channels = 1;                           ///< 1 or 3
  double red = 1.0, green = 1.0, blue = 1.0;  ///< cast: factors on the light
  bool mosaic = false;                        ///< RGGB colour mosaic, each channel filled in bilinearly
};

struct Sensor {
  double full_well = 0.0;   ///< electrons at full scale; 0: no shot noise
  double read_noise = 0.0;  ///< standard deviation in 8-bit grey levels (1/255 of full scale)
  double exposure = 1.0;    ///< gain; what exceeds full scale is clipped
  double pedestal = 0.0;    ///< added offset, share of full scale
  double gamma = 1.0;       ///< stored = linear^(1/gamma)
  double sharpen = 0.0;     ///< unsharp mask, amount
  double sharpen_px = 1.5;  ///< its blur
  double resample = 1.0;    ///< factor on width and height of the stored picture
  int bits = 8;             ///< 8, 10, 12, 14 or 16
  int jpeg_quality = 0;     ///< 0: lossless
};

enum class NoScale {
  none,
  blank,
  white_noise,
  cloud,
  fibres,
  parallel_fibres,
  grains,
  text_page,
  edges,
  uneven_stripes,
  chirp,
  rings,
  brickwork,
  cloth,
  tiles,
  voronoi,
  changing_pairs,
  jpeg_grid,
  discs,
  star,
  zone_plate,
  scratches
};

struct Scene {
  int width = 1280;
  int height = 960;
  std::uint64_t seed = 1;
  std::string name;  ///< of the class that made it
  Ground ground;
  std::vector<LineScale> scales;
  NoScale no_scale = NoScale::none;  ///< what is drawn instead of, or behind, scales
  bool regular = false;              ///< for brickwork, cloth, tiles, discs: perfectly regular
  Optics optics;
  Geometry geometry;
  Shading shading;
  RoundField field;
  Ring ring;
  std::vector<Body> bodies;
  Clutter clutter;
  Colour colour;
  Sensor sensor;
};

/// One clear line saying what cannot be rendered, or an empty string.
std::string why_invalid(const Scene& scene);

}  // namespace micrograph
