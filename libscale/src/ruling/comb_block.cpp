#include "ruling/comb_block.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "numeric/robust.h"

namespace scale {
namespace {

// Judgement, all of it; checked by the accuracy suite.
constexpr double kFractions[] = {0.35, 0.45, 0.55, 0.65};  // of a division: between two lines
constexpr double kNearest = 5.0, kFarthest = 12.0;         // pixels: a base line, and the blur of the ends, lie nearer
constexpr double kInPitch = 0.4;                           // of the pitch: as much where that lies between
constexpr double kHeight = 12.0;                           // pixels of the strip that is looked at
// Of the lines' depth. Thin lines of the distance p under a blur s are darker on average by s sqrt(2 pi) / p of the
// depth of one alone, and are no longer told apart from s = 0.3 p on: by 0.75.
constexpr double kDarker = 0.4;
constexpr std::size_t kLeastPairs = 6;
constexpr double kLeastPitch = 10.0;  // pixels: less leaves too little ground between the lines to compare with

// Mean share of the light between a line and the next one, over part of v; nothing where too little can be trusted.
std::optional<double> between(const Light& light, const Comb& comb, int index, double v_from, double v_to) {
  const double c = std::cos(comb.direction), s = std::sin(comb.direction);
  double sum = 0.0;
  int count = 0, all = 0;
  for (int row = 0; v_from + row <= v_to; ++row)
    for (const double fraction : kFractions) {
      const double v = v_from + row;
      const double t = comb.at(index + fraction) + comb.slope(index + fraction) * (v - comb.v0);
      const int x = static_cast<int>(std::lround(t * c - v * s)), y = static_cast<int>(std::lround(t * s + v * c));
      ++all;
      if (x < 0 || y < 0 || x >= light.share.cols || y >= light.share.rows || light.trusted(x, y) < 0.5) continue;
      sum += light.off(x, y), ++count;
    }
  if (2 * count < all || count == 0) return std::nullopt;
  return sum / count;
}

}  // namespace

bool sticks_out_of_block(const Light& light, const Comb& comb) {
  if (comb.pitch() < kLeastPitch) return false;
  const double away = std::clamp(kInPitch * comb.pitch(), kNearest, kFarthest);
  std::vector<double> below, above;
  for (std::size_t i = 1; i < comb.lines.size(); ++i) {
    const CombLine &one = comb.lines[i - 1], &next = comb.lines[i];
    if (one.seen != Seen::clearly || next.seen != Seen::clearly) continue;
    const double low = std::max(one.v_low, next.v_low), high = std::min(one.v_high, next.v_high);
    const auto inside = between(light, comb, one.index, low + 0.25 * (high - low), high - 0.25 * (high - low));
    if (!inside) continue;
    for (const bool upwards : {false, true}) {
      const auto strip = upwards ? between(light, comb, one.index, high + away, high + away + kHeight)
                                 : between(light, comb, one.index, low - away - kHeight, low - away);
      if (strip) (upwards ? above : below).push_back((*strip - *inside) / comb.depth);
    }
  }
  const auto dark = [](std::vector<double>& values) {
    return values.size() >= kLeastPairs && numeric::median_in_place(values) > kDarker;
  };
  return dark(below) || dark(above);
}

}  // namespace scale
