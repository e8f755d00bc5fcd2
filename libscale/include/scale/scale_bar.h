// The length of a scale bar that was drawn into a picture.
//
// Model: one upright rectangle of a single grey value, along the rows, with other grey values on all four sides;
// letters may stand beside it and short ticks at its ends. Each end lies where the bar's share of the samples around it
// ends: the sum of (sample - ground) / (bar - ground) over the pixels of the step, row by row, the mean of the rows by
// their contrast. A bar drawn to a part of a pixel, averaged or interpolated to another size is so measured to some
// tenths of a pixel. Limits: a bar in pieces, turned, under 20 pixels or a fifth of the view's width, or reaching the
// view's border is refused. Its label is not read: the caller says what length the bar stands for. A rim of another
// grey value is left out. What it proves: a bar shows what whoever drew it believed of the picture, never what the
// optics were. It shrinks with a picture that is resized after it was drawn, and so tells that.
#pragma once

#include <optional>
#include <string>

#include <scale/image.h>

namespace scale {

struct ScaleBar {
  double left_px = 0.0, right_px = 0.0;  // its ends, in coordinates of the view: one from pixel 3 to 9 has 2.5 and 9.5
  double length_px = 0.0;
  double uncertainty_px = 0.0;  // standard, of reading that length
};

struct ScaleBarReading {
  std::optional<ScaleBar> bar;
  std::string problem;  // why there is none, in words
};

// Looks for the one bar in `image`, the part of a picture where it stands. std::invalid_argument without an image.
ScaleBarReading read_scale_bar(const ImageView& image);

}  // namespace scale
