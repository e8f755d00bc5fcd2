// The response of the picture to a straight edge, in closed form.
//
// Model: an ideal half-plane u' > 0 blurred by a Gaussian of standard deviation s, moved about by the offsets of the
// disc of defocus and of the smear (quadrature nodes), and averaged over the square pixel. Along u the pixel is the
// convolution of two boxes of widths a = |du/dx| and b = |du/dy|, so the averaged edge is a second difference of the
// second antiderivative of the normal distribution function:
//     I1(u) = u Phi(u/s) + s phi(u/s)        I2(u) = ((u^2 + s^2) Phi(u/s) + u s phi(u/s)) / 2
//     edge(u) = [I2(u+(a+b)/2) - I2(u+(a-b)/2) - I2(u-(a-b)/2) + I2(u-(a+b)/2)] / (a b)
// exact for lines much longer than the blur. The disc's chord is integrated by Gauss-Chebyshev nodes of the second
// kind, whose weight is the chord itself.
#pragma once

#include <vector>

#include "micrograph/scene.h"

namespace micrograph {

struct BlurNode {
  double offset;
  double weight;
};

/// The blur seen along one direction.
struct Blur {
  double sigma = 1.0;
  std::vector<BlurNode> nodes{{0.0, 1.0}};
  double node_reach = 0.0;  ///< largest |offset|
};

/// Blur along the direction `angle` (radians) of the object's plane.
Blur blur_along(const Optics& optics, double angle);

/// Value and slope of the edge at a distance.
struct EdgeValue {
  double value;
  double slope;
};

/// Pixel-averaged edge, a and b as above; a = b = 0 gives the edge at a point.
EdgeValue edge(const Blur& blur, double u, double a, double b);

/// The same with a Gaussian of another width, for a focus that changes over the field.
EdgeValue edge(const Blur& blur, double sigma, double u, double a, double b);

/// Distance beyond which edge() is 0 or 1 to 2e-8.
double edge_reach(const Blur& blur, double a, double b);

/// edge() tabulated for one direction; cubic Hermite between entries, error below 1e-7.
class EdgeTable {
 public:
  EdgeTable(const Blur& blur, double a, double b);
  double reach() const { return reach_; }
  EdgeValue at(double u) const;
  double value(double u) const;

 private:
  double reach_;
  double per_step_;
  std::vector<EdgeValue> entries_;  // slopes per step
};

/// Edges for a Gaussian that changes over the field, for blurs of many nodes where edge() would take too long. Tables
/// at steps of the variance, parabolas between them (error 2e-5). A pixel of another size than a, b counts through its
/// variance, which leaves the edge's position and symmetry exact and its shape to second order.
class FocusTables {
 public:
  FocusTables(const Blur& blur, double worst_sigma, double a, double b);
  EdgeValue at(double u, double sigma, double a, double b) const;

 private:
  double first_;  // variance of the first table
  double log_ratio_;
  double box_;  // a^2 + b^2 of the tables
  std::vector<EdgeTable> tables_;
};

/// Nodes and weights of Gauss-Legendre quadrature on [-1/2, 1/2], weights summing to 1.
std::vector<BlurNode> gauss_legendre(int order);

/// Order at which the mean over a pixel of an edge of this blur is exact to 1e-6.
int pixel_order(double sigma);

}  // namespace micrograph
