// One scale among others, as a whole: all its lines at once, wherever other lines cover some of them.
//
// Model. In light relative to the ground, line n of a scale lies at
//     t(n, v) = P(z) + (lean + fan z) (v - v0),      z from -1 at the first line to 1 at the last,
// in t = x cos + y sin along the axis and v = y cos - x sin along the lines; P is a polynomial of low degree, for a
// tilted camera and a distorted field. All lines have one profile and about one depth. What another scale lets through
// of the light is divided out beforehand, and a pixel counts by the square of it, as its noise grows (`Light`).
//
// A line is read as a whole, all its blocks of a few pixels in common, by least squares for its ground, depth and shift
// with what is known of ground and depth of the others as prior; so a line of which one flank is covered still tells
// its place, and one that is covered whole says nothing at all instead of something wrong.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include <scale/ruling.h>

#include "ruling/line_shape.h"

namespace scale {

// Share of the ground's light, and how far it can be trusted (0 to 1); single precision.
struct Light {
  cv::Mat share, trust;

  // Of a pixel: what the share is off 1, and its trust.
  double off(int x, int y) const { return static_cast<double>(share.at<float>(y, x)) - 1.0; }
  double trusted(int x, int y) const { return static_cast<double>(trust.at<float>(y, x)); }
};

// `dark`: the lines are darker than the ground.
Light light_of(const cv::Mat& picture, bool dark);

// Some lines of a scale, to begin with: places on the axis in order of index, and a part of v where they all are.
struct CombStart {
  double direction = 0.0;  // radians
  std::vector<int> index;
  std::vector<double> t;
  double v_low = 0.0, v_high = 0.0;
};

CombStart start_of(const Ruling& ruling);

enum class Seen { clearly, covered, not_there };

struct CombLine {
  int index = 0;
  Seen seen = Seen::clearly;
  double t = 0.0;          // at v0
  double coverage = 0.0;   // share of what the line could tell that was free
  double depth = 0.0;      // of the ground's light, negative for dark lines
  double explained = 0.0;  // share of the variance about it
  double v_low = 0.0, v_high = 0.0;
};

struct Comb {
  double direction = 0.0, v0 = 0.0, lean = 0.0, fan = 0.0, fan_uncertainty = 0.0;
  double middle = 0.0, half = 1.0;   // z = (index - middle) / half
  std::array<double, 4> place{};     // coefficients of P
  double v_low = 0.0, v_high = 0.0;  // where nearly all lines are
  LineShape shape;
  double depth = 0.0, scatter = 0.0;  // median of the lines'; pixels, robust, of the places about P
  std::vector<CombLine> lines;        // first to last, all indices

  double z(double index) const { return (index - middle) / half; }
  double at(double index) const;
  double slope(double index) const { return lean + fan * z(index); }
  double pitch() const { return place[1] / half; }
  std::size_t count(Seen seen) const;
};

// Nothing where fewer than a handful of lines hold up.
std::optional<Comb> fit_comb(const Light& light, const CombStart& start);
// The same from what is known of it.
std::optional<Comb> refit_comb(const Light& light, const Comb& comb);

// The finest division that is seen anywhere along the lines: the comb itself, or one of a part of its pitch.
std::optional<Comb> finest_comb(const Light& light, Comb comb);

// Divides the lines out of the light.
Light without(Light light, const Comb& comb);

// Does nearly every line that is not covered show, as deep as the others and as evenly spaced as ruled ones?
bool believable(const Comb& comb);

// Share of the light's variance among the comb's lines that `rest` still has, `noise` (of a sample) left out of both.
double left_over(const Light& light, const Light& rest, const Comb& comb, double noise);

// The lines seen clearly.
Ruling as_ruling(const Comb& comb);

}  // namespace scale
