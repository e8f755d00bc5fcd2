// From the picture to the object's plane and back.
#pragma once

#include <vector>

#include "micrograph/scene.h"

namespace micrograph {

struct Point {
  double x;
  double y;
};

/// The geometry of one colour channel. Coordinates on both sides are pixels, the middle of the frame common to both.
class ObjectMap {
 public:
  /// `channel` 0 red, 1 green, 2 blue.
  ObjectMap(const Scene& scene, int channel);

  bool affine() const { return affine_; }
  Point to_picture(Point object) const;
  Point to_object(Point picture) const;
  Point middle() const { return middle_; }
  double half_diagonal() const { return radius_; }

 private:
  Geometry geometry_;
  double scale_;
  Point middle_;
  double radius_;
  bool affine_;
};

}  // namespace micrograph
