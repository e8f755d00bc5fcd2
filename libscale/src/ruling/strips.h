// Sheared strip profiles: the picture summed along the graduations, without resampling it.
//
// Model. Work in a frame whose rows run across the graduations, direction `angle` in [-45, 45] degrees. With
// T = tan(angle) the sheared coordinate s = x + T y is constant along a graduation, and v = y cos - x sin runs
// along it. Strip k holds the pixels with v in [v0 + k h, v0 + (k + 1) h); a pixel adds its value to the bin
// s_bin = x + round(T y). The rounding remainder is not thrown away: rows are parted by it into `phases` classes,
// and each bin keeps the mean remainder of its pixels, so that bin i of a class stands for
//     s = first + i + remainder[i]
// exactly, blurred by 1/phases pixel at most.
//
// A distance along s is cos(angle) times smaller along the ruling's axis.
#pragma once

#include <cstddef>

#include <scale/image.h>

#include "numeric/unfilled.h"

namespace scale {

struct StripLayout {
  double angle = 0.0;  // radians, within 45 degrees
  double v0 = 0.0;     // pixels along the graduations
  double height = 16.0;
  int count = 1;
  int phases = 1;
  int row_step = 1;  // only every so many rows are summed
};

struct Strips {
  StripLayout layout;
  double slope = 0.0;  // T
  int first = 0;       // s of bin 0
  int bins = 0;
  // [strip][phase][bin]; a bin without pixels has count 0.
  numeric::UnfilledVector<float> mean, remainder, count;

  std::size_t at(int strip, int phase) const {
    return (static_cast<std::size_t>(strip) * static_cast<std::size_t>(layout.phases) +
            static_cast<std::size_t>(phase)) *
           static_cast<std::size_t>(bins);
  }
  double v_centre(int strip) const { return layout.v0 + (strip + 0.5) * layout.height; }
};

// Range of v over the whole picture: the v0 and the count * height that a layout must cover.
struct AlongRange {
  double low = 0.0, high = 0.0;
};
AlongRange along_range(const ImageView& image, double angle);

// Strips are summed in parallel, each by one thread: the result does not depend on the number of threads. The memory of
// `spent`, strips that are no longer wanted, is used again.
Strips sum_strips(const ImageView& image, const StripLayout& layout, Strips spent = {});

// All of [v_low, v_high) in one strip.
Strips one_strip(const ImageView& image, double angle, double v_low, double v_high);

// Strips [from, to) as one.
Strips merged(const Strips& strips, int from, int to);

// One phase, strips of about `height` pixels over `range`.
Strips strips_over(const ImageView& image, double angle, double height, AlongRange range, int row_step = 1,
                   Strips spent = {});

// The largest of `n` counts, at least 0.
float largest_count(const float* count, std::size_t n);

}  // namespace scale
