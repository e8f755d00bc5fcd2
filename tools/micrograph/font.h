// A small stroke alphabet for numerals and stray text.
#pragma once

#include <string_view>
#include <vector>

namespace micrograph {

/// One straight stroke; glyphs stand on a grid 4 wide and 6 high, y down.
struct Stroke {
  double x1, y1, x2, y2;
};

inline constexpr double kGlyphAdvance = 6.0;
inline constexpr double kGlyphHeight = 6.0;

/// Strokes of a text in grid units, its first glyph at x = 0. Unknown characters leave a space.
std::vector<Stroke> strokes_of(std::string_view text);

}  // namespace micrograph
