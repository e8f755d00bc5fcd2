// The pixels about one line of a comb.
#pragma once

#include <algorithm>
#include <cmath>

#include "ruling/comb.h"

namespace scale {

// Where a line lies, straight: offset of a pixel from it along the axis is x gx + y gy - zero.
struct CombPath {
  double c, s, slope, t, v0;
  double gx() const { return c + slope * s; }
  double gy() const { return s - slope * c; }
  double zero() const { return t - slope * v0; }
};

inline CombPath path_of(const Comb& comb, double index, double shift = 0.0) {
  return {std::cos(comb.direction), std::sin(comb.direction), comb.slope(index), comb.at(index) + shift, comb.v0};
}

// Every pixel within `reach` of the line from v_low to v_high: (x, y, offset, v). No value is interpolated.
template <class Visit>
void visit_line(const cv::Size& size, const CombPath& path, double v_low, double v_high, double reach,
                const Visit& visit) {
  const bool rows = std::abs(path.c) >= std::abs(path.s);
  const double gx = path.gx(), gy = path.gy(), zero = path.zero();
  const auto along = [&](double v) {
    const double u = path.t + path.slope * (v - path.v0);
    return rows ? u * path.s + v * path.c : u * path.c - v * path.s;
  };
  const double a = along(v_low), b = along(v_high);
  const int last = (rows ? size.height : size.width) - 1, last_across = (rows ? size.width : size.height) - 1;
  const int from = std::max(0, static_cast<int>(std::ceil(std::min(a, b)))),
            to = std::min(last, static_cast<int>(std::floor(std::max(a, b))));
  const double g = rows ? gx : gy, other = rows ? gy : gx, room = reach / std::abs(g);
  for (int m = from; m <= to; ++m) {
    const double centre = (zero - m * other) / g;
    const int first = std::max(0, static_cast<int>(std::ceil(centre - room))),
              end = std::min(last_across, static_cast<int>(std::floor(centre + room)));
    for (int k = first; k <= end; ++k) {
      const int x = rows ? k : m, y = rows ? m : k;
      visit(x, y, x * gx + y * gy - zero, y * path.c - x * path.s);
    }
  }
}

}  // namespace scale
