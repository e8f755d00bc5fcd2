// What one line of a comb says about its ground, depth and shift, in blocks along it.
#pragma once

#include <vector>

#include "ruling/comb.h"

namespace scale {

inline constexpr double kBlockHeight = 8.0;  // pixels along the line

struct Prior {
  double depth = 0.0;
  bool known = false;  // depth
};

struct Solved {
  double ground = 0.0, depth = 0.0, shift = 0.0, explained = 0.0;
};

// Normal equations of y = ground + depth S(t) - depth shift S'(t), y the light less 1. Plain sums, as every pixel about
// every line enters them.
struct LineSums {
  double one = 0.0, s = 0.0, d = 0.0, ss = 0.0, sd = 0.0, dd = 0.0;  // of trust by S and D = -S'
  double y = 0.0, ys = 0.0, yd = 0.0;
  double squares = 0.0, all_slope = 0.0;  // of trust by y^2; of D^2 without trust

  void add(double value, double trust, const LineShape::Sample& shape);
  void add(const LineSums& other);
  double coverage() const { return all_slope > 0.0 ? dd / all_slope : 0.0; }
  Solved solved(const Prior& prior) const;
};

struct LineRead {
  double shift = 0.0;    // pixels from the comb's place, about which the sums were taken
  double v_first = 0.0;  // where block 0 begins
  std::vector<LineSums> blocks;
  std::size_t core_from = 0, core_to = 0;
  LineSums core, total;          // of the part where all lines are, and of the line's own
  std::size_t from = 0, to = 0;  // blocks of the line
  double v_mean = 0.0;           // of the line's blocks, by what they tell

  double v_of(std::size_t block) const { return v_first + (static_cast<double>(block) + 0.5) * kBlockHeight; }
  double low() const { return v_first + static_cast<double>(from) * kBlockHeight; }
  double high() const { return v_first + static_cast<double>(to) * kBlockHeight; }
  // Finds where the line ends, from its core on: it goes on while it keeps a share of its depth.
  void limit(const Prior& prior, double goes_on, double covered);
};

// `shift`: of the line from its place, as far as it is known.
LineRead read_line(const Light& light, const Comb& comb, double index, double v_low, double v_high, double shift = 0.0);

}  // namespace scale
