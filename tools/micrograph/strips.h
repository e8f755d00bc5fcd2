// Blurred, pixel-averaged rectangles: the one primitive of all ruled things.
//
// Away from its ends a strip is exact by the closed form of optics.h; near its ends the product of the edges along u
// and v is averaged over the pixel by Gauss-Legendre quadrature. A disc of defocus or a smear is taken as separable
// there: the end of the line differs a little from the true one, but symmetrically about the line, so that its
// position is not touched.
#pragma once

#include <vector>

#include "object_map.h"
#include "optics.h"
#include "plane.h"

namespace micrograph {

/// In a frame turned by an angle about an origin of the object's plane.
struct Strip {
  double u1, u2, v1, v2;
  double amplitude;
};

enum class Ink {
  add,   ///< coverage is summed: for parts of one ruling that may blur into each other but do not overlap
  cover  ///< what shows through is multiplied: for things that lie over one another
};

/// What of the light a thing leaves, pixel by pixel, on the object of one picture. The positions of all pixels on
/// the object are worked out once when the geometry is not affine.
class Raster {
 public:
  Raster(const Scene& scene, int channel);

  const ObjectMap& map() const { return map_; }
  bool uniform() const { return uniform_; }
  Point object_at(int x, int y) const;
  double sigma_at(double x, double y) const;  ///< Gaussian blur, with the change of focus
  double worst_sigma() const { return worst_sigma_; }
  int width() const { return width_; }
  int height() const { return height_; }

 private:
  ObjectMap map_;
  int width_, height_;
  bool uniform_;
  double sigma_, worst_sigma_, focus_x_, focus_y_, focus_offset_;
  std::vector<Point> positions_;
};

/// Draws strips of one direction.
class StripPainter {
 public:
  /// `tabulate` pays when many strips are drawn.
  StripPainter(const Scene& scene, const Raster& raster, Point origin, double angle, bool tabulate);

  /// The same direction about another origin, its tables kept.
  StripPainter moved_to(Point origin) const;

  void paint(const Strip& strip, Ink ink, Plane& plane) const;

 private:
  struct Local;
  Point frame_at(Point object) const;
  double bar(const Strip& strip, const Local& local) const;
  double bar_by_product(const Strip& strip, const Local& local) const;
  double bar_by_quadrature(const Strip& strip, const Local& local) const;
  Local local_at(int x, int y) const;
  double sigma_on_line(const Strip& strip, const Local& local) const;
  enum class Axis { u, v };
  EdgeValue along(Axis axis, int which, double distance, double sigma, double a, double b) const;
  struct Rows {
    int first, last;
  };
  Rows rows_of(const Strip& strip, double margin_u, double margin_v) const;
  bool clip_row(int y, const Strip& strip, double margin_u, double margin_v, int& first, int& last) const;

  const Raster& raster_;
  Point origin_;
  double cosine_, sine_;
  Blur blur_u_, blur_v_;
  double relief_u_, relief_v_;
  std::vector<BlurNode> pixel_nodes_;
  double ux_, uy_, vx_, vy_;  // gradients at the middle of the frame
  // Pixel-averaged, at a point. At most one kind is filled; neither: evaluated directly.
  std::vector<EdgeTable> tables_u_, tables_v_;
  std::vector<FocusTables> focus_u_, focus_v_;
};

}  // namespace micrograph
