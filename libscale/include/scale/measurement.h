// From outlines in pixels to widths and sizes in micrometres, each with its uncertainty, and their distribution.
//
// Model.    A point of the picture lies at (f_x x, f_y y) micrometres, after the radial distortion was taken out where
// a
//           calibration knows it; so every length has the factor of its own place and direction. An edge lies
//           `edge_shift` outside the half level.
// Formulas. Circularity sqrt(4 pi A) / P (ISO 9276-6, clause from memory), equivalent diameter sqrt(4 A / pi).
//           Weight of a grain, X Y / ((X - F_x)(Y - F_y)) in a frame of X by Y (Miles-Lantuejoul, as ISO 13322-1 has
//           it; clause from memory).
// Uncertainty. `own` parts are independent from body to body (noise of the edges); `shared` ones are the same error for
//           every body of a set-up (factor, edge convention, grey-level curve, blur). A mean over n bodies has
//           own^2 + SD^2/n + shared^2: only what is not shared shrinks. See docs/uncertainty.md.
#pragma once

#include <deque>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <scale/setup.h>
#include <scale/specimen.h>

namespace scale {

struct LengthScale {
  double x_um_per_pixel = 0.0, y_um_per_pixel = 0.0;
  double relative_uncertainty = 0.0;  // standard, of the mean factor
  double local_uncertainty = 0.0;     // standard, relative: how much the factor of one place may differ from the mean
  // Radial distortion r -> r (1 + kappa (r / R)^2) about the middle of the frame, R half its diagonal; 0: not known.
  double kappa = 0.0;
  int width = 0, height = 0;          // pixels of the whole picture; 0: what was looked at is all of it
  std::optional<MeasuringArea> area;  // what the factors are the mean over, in pixels of the picture; absent: all of it
};

// Mean over a frame, or an area of it, of the factor along x and along y, against that in the frame's middle, under
// such a distortion. They differ: the longer side reaches further out.
struct FrameMeans {
  double x = 1.0, y = 1.0;
};
FrameMeans frame_means(double kappa, int width, int height, const std::optional<MeasuringArea>& area = std::nullopt);

// How grey values go with light. Where that is not known, a curve of 1/2.2 is taken as the other possibility.
enum class GreyCurve { unknown, linear };

struct MeasurementConditions {
  LengthScale scale;
  Micrometres edge_shift;                         // of the true edge from the half level, outwards
  std::optional<Micrometres> edge_uncertainty{};  // standard, of that, one error for all edges; absent: not stated
  GreyCurve grey = GreyCurve::unknown;
};

struct MeasuredValue {
  double value = 0.0;
  double own = 0.0, shared = 0.0;  // standard uncertainties
  double rectangular = 0.0;        // of the edge convention, within `shared`: anywhere between limits
  double standard() const;
  double expanded() const;  // 95.45 %
};

// Half width of the interval that holds 95.45 % of the sum of a normal error and one that lies evenly between limits,
// both given by their standard uncertainties: twice the combined one when nothing lies between limits, 1.65 times when
// all does (EA-4/02, S9.14, as reported; JCGM 100, G.2.2: the normal factor is not to be used where one such component
// dominates).
double expanded_with_limits(double normal, double rectangular);

// ISO 9276-6 (formulas as reported; names differ between sources, so they are printed with them). A area, P perimeter,
// F_min and F_max Feret diameters; A_c and P_c those of the convex hull.
struct ShapeFactors {
  double circularity = 0.0;   // sqrt(4 pi A) / P
  double form_factor = 0.0;   // 4 pi A / P^2
  double roundness = 0.0;     // 4 A / (pi F_max^2)
  double compactness = 0.0;   // sqrt(4 A / pi) / F_max
  double aspect_ratio = 0.0;  // F_min / F_max
  double solidity = 0.0;      // A / A_c
  double convexity = 0.0;     // P_c / P
};

struct MeasuredBody {
  BodyKind kind = BodyKind::grain;
  PixelPoint at;
  MeasuredValue width_um;  // fibre: mean of its local widths; grain: least Feret diameter; across: edge to edge
  std::optional<double> width_min_um, width_max_um, width_sd_um;             // of the local widths
  std::optional<MeasuredValue> length_um;                                    // fibre, tip to tip along the centre line
  std::optional<double> feret_max_um, perimeter_um, equivalent_diameter_um;  // grain, like the next two
  std::optional<MeasuredValue> area_um2;
  std::optional<ShapeFactors> shape;
  bool at_border = false;
  double weight = 1.0;             // in distributions, for the share of such bodies that the frame cuts; 0: left out
  std::vector<std::string> notes;  // codes of docs/formats.md
};

// Throws std::invalid_argument when the factor is not positive.
std::vector<MeasuredBody> measure_bodies(const SpecimenReading& reading, const MeasurementConditions& conditions);

// Where the half level lies against the true edge of an object that nothing is known of: limits of 0.11 lambda/NA for
// each edge (scalar Abbe model of an opaque strip; docs/uncertainty.md).
Micrometres edge_convention_uncertainty(double aperture, Micrometres wavelength = {0.55});

// Of a closed polygon; lengths and areas in the units of its points.
struct OutlineSizes {
  double area = 0.0, perimeter = 0.0, feret_min = 0.0, feret_max = 0.0;
  ShapeFactors shape;
};
OutlineSizes sizes_of(std::span<const PixelPoint> outline);

struct SizedBody {
  double value = 0.0;   // micrometres
  double weight = 1.0;  // for the frame
  double amount = 0.0;  // length of a fibre, area of a grain: for the weighted distribution
  double own = 0.0, shared = 0.0, rectangular = 0.0;  // as in MeasuredValue
};

struct SizeClass {
  double low = 0.0, high = 0.0;  // low <= value < high
  double count = 0.0;            // bodies, weighted for the frame
  double share = 0.0, amount_share = 0.0;
};

struct DistributionOptions {
  double class_width = 0.0;  // micrometres; 0: chosen from the values
  double confidence = 0.95;  // of the interval of the mean
  double wanted = 0.0;       // half of that interval over the mean that is wanted; 0: not asked
};

struct SizeDistribution {
  int count = 0;
  double mean = 0.0, sd = 0.0, variation = 0.0;                                       // variation: sd over mean
  double d10 = 0.0, median = 0.0, d90 = 0.0;                                          // by number
  double amount_mean = 0.0, amount_d10 = 0.0, amount_median = 0.0, amount_d90 = 0.0;  // by length or area
  double least = 0.0, most = 0.0;
  double sampling = 0.0;       // standard uncertainty of the mean by the scatter of the bodies
  double shared = 0.0;         // by what all values share; does not shrink with their number
  double rectangular = 0.0;    // the part of `shared` that lies between limits
  double expanded = 0.0;       // of the mean, both, 95.45 %
  double interval_half = 0.0;  // half of the confidence interval by the scatter alone
  std::optional<int> needed;   // bodies for the wanted interval
  std::vector<SizeClass> classes;
  bool widened = false;  // classes of the width asked for would be too many
};

// Sizes as they come: 24 bytes a body, since a quantile needs every one of them; what all share is summed up.
class SizeSample {
 public:
  void add(const SizedBody& body);  // of weight 0: left out
  // Of no bodies: count 0 and nothing else. Puts the sizes in order where they are.
  SizeDistribution distribution(const DistributionOptions& options = {});

 private:
  friend class SortedSizes;
  struct Size {
    double value = 0.0, weight = 1.0, amount = 0.0;  // amount times weight
  };
  std::deque<Size> sizes_;
  double own_squares_ = 0.0, shared_ = 0.0, rectangular_ = 0.0;  // sums, by weight
};

SizeDistribution distribution_of(std::span<const SizedBody> bodies, const DistributionOptions& options = {});

}  // namespace scale
