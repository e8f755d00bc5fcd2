#include "ruling/broad_band.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <oneapi/tbb/parallel_for.h>

#include "numeric/robust.h"
#include "ruling/hidden_lines.h"
#include "ruling/spaces.h"

namespace scale {

namespace {

constexpr double kFineHeight = 3.0;        // pixels, of the strips
constexpr double kReach = 12.0;            // widths of a line beyond the ends of the lines,
constexpr double kLeastReach = 40.0;       // and at least so many pixels
constexpr double kMostHeight = 600.0;      // pixels that are looked at
constexpr double kLeastSeen = 0.5;         // of the spaces
constexpr double kOpenLine = 0.75;         // of the contrast, of a line on open ground
constexpr double kDrowned = 0.5;           // the same, of what is left of it in a band
constexpr double kEdge = 0.15;             // of the contrast, where a band begins,
constexpr double kLeastDepth = 0.3;        // and in its middle
constexpr double kEdgeStep = 0.5;          // of the depth, within
constexpr double kEdgePeriods = 1.2;       // periods: finer lines are blurred by half of one at most,
constexpr double kLeastEdge = 12.0;        // and at least so many pixels
constexpr double kFrame = 0.25;            // of the ground's grey value: darker than what half covered ground leaves
constexpr int kOutermost = 3;              // strips
constexpr double kStub = 1.0;              // of the period, the length of lines that only just stick out,
constexpr double kDeep = 3.0;              // and of their contrast
constexpr double kBroad = 1.4;             // widths of a line; base lines have 1.3 at most, less with blur
constexpr double kDarker = 1.25;           // of the height of the lines on open ground: no base line is darker,
constexpr double kOwnContrast = 0.3;       // where blur of so much of a line's width leaves it its contrast
constexpr double kWholeBlurs = 3.0;        // and where so many blurs of its length lie open, for its ends blur it, too
constexpr double kCut = 2.0;               // strips that a base line may lie in for a small part
constexpr double kBroadBesideWave = 1.3;   // of the period, where blur leaves the lines no width of their own,
constexpr double kLeastBesideWave = 15.0;  // and pixels,
constexpr double kBroaderByBlur = 5.0;     // reached by so much for each pixel of blur

// What the spaces have in common at one height, grey values that grow with ink, and how far the lines stand out of
// them.
struct Level {
  double ink = 0.0, lines = 0.0;
  bool open = false;  // the lines that were found are there, and stand out as they do on open ground
};

using Levels = std::vector<std::optional<Level>>;

std::optional<Level> level_at(const Graduations& g, const Strips& strips, int k, double contrast) {
  const double v = strips.v_centre(k), half = half_of_middle(g);
  const double sign = g.lines.front().amplitude < 0.0 ? -1.0 : 1.0;
  const auto covers = [v](const MeasuredLine& line) { return v >= line.v_low && v <= line.v_high; };
  std::vector<double> spaces, lines;
  std::size_t covered = 0;
  const std::size_t stride = standing_for_all(g.lines.size());
  for (std::size_t l = 0; l + 1 < g.lines.size(); l += stride) {
    const double here = g.centre_at(l, v), next = g.centre_at(l + 1, v);
    const auto space = mean_around(strips, k, 0.5 * (here + next), half), line = mean_around(strips, k, here, 1.0);
    if (!space || !line) continue;
    spaces.push_back(sign * *space);
    lines.push_back(sign * *line);
    covered += covers(g.lines[l]) && covers(g.lines[l + 1]);
  }
  const auto enough = [&](std::size_t n) {
    return static_cast<double>(n * stride) >= kLeastSeen * static_cast<double>(g.lines.size() - 1);
  };
  if (!enough(spaces.size())) return std::nullopt;
  const double ink = numeric::upper_median(std::move(spaces)), stand = numeric::upper_median(std::move(lines)) - ink;
  return Level{ink, stand, enough(covered) && stand > kOpenLine * contrast};
}

Strips fine_strips(const ImageView& image, const Graduations& g) {
  const AlongRange lines = common_range(g), whole = along_range(image, g.strips.layout.angle);
  const double reach = std::max(kLeastReach, kReach * g.shape.width), middle = 0.5 * (lines.low + lines.high),
               half = std::min(0.5 * kMostHeight, 0.5 * (lines.high - lines.low) + reach);
  return strips_over(image, g.strips.layout.angle, kFineHeight,
                     {std::max(whole.low, middle - half), std::min(whole.high, middle + half)});
}

// The ground beyond both ends of the lines, where there are none, of the two the one less like them. The halo of a
// phase picture, or bright lines taken for the spaces of dark ones, lift what lies between the lines above it; a block
// of finer lines would lie beyond one end only.
std::optional<double> ground_beyond(const Levels& levels, double contrast) {
  const auto outermost = [&](auto from, auto to) -> std::optional<double> {
    double ink = -1e300;
    for (int seen = 0; from != to && seen < kOutermost; ++from) {
      if (!*from) continue;
      if ((*from)->lines >= kDrowned * contrast) return std::nullopt;
      ink = std::max(ink, (*from)->ink);
      ++seen;
    }
    return ink;
  };
  const auto low = outermost(levels.begin(), levels.end()), high = outermost(levels.rbegin(), levels.rend());
  if (!low || !high) return std::nullopt;
  return std::min(*low, *high);
}

// The lines where they stand on open ground: the lightest of it, their largest height, and over how many strips.
struct OpenLines {
  double ground = 1e300, height = 0.0;
  int strips = 0;
};

OpenLines open_lines(const Levels& levels) {
  OpenLines open;
  for (const std::optional<Level>& level : levels) {
    if (!level || !level->open) continue;
    open = {std::min(open.ground, level->ink), std::max(open.height, level->lines), open.strips + 1};
  }
  return open;
}

// A band: strips [from, to), and how far it stands out of the ground.
struct DarkBand {
  std::size_t from = 0, to = 0;
  double depth = 0.0;
};

std::vector<DarkBand> bands_in(const Levels& levels, double ground, double contrast) {
  std::vector<DarkBand> bands;
  const auto dark = [&](std::size_t k) {
    return levels[k] && levels[k]->ink - ground > kEdge * contrast && levels[k]->lines < kDrowned * contrast;
  };
  for (std::size_t from = 0; from < levels.size(); ++from) {
    DarkBand band{from, from, 0.0};
    for (; band.to < levels.size() && dark(band.to); ++band.to)
      band.depth = std::max(band.depth, levels[band.to]->ink - ground);
    if (band.depth > kLeastDepth * contrast) bands.push_back(band);
    from = std::max(from, band.to);
  }
  return bands;
}

bool is_bounded(const Levels& levels, const DarkBand& band) {
  return band.from > 0 && levels[band.from - 1] && band.to < levels.size() && levels[band.to];
}

// One that goes on out of view may be the frame of the field, or what lies round bright lines.
bool is_frame(const Levels& levels, const DarkBand& band, double ground) {
  return !is_bounded(levels, band) &&
         (ground > 0.0 || ground + band.depth > kFrame * ground);  // dark lines: ink is the negative grey value
}

// The open ground that it rises from within `reach` strips; nothing where it does not, as clouded light, or lines that
// go out of focus.
std::optional<double> ground_beside(const Levels& levels, const DarkBand& band, std::size_t reach) {
  std::optional<double> least;
  const std::size_t from = band.from > reach ? band.from - reach : 0, to = std::min(levels.size(), band.to + reach);
  for (std::size_t k = from; k < to; ++k) {
    if (!levels[k] || !levels[k]->open) continue;
    for (std::size_t other = std::max(band.from, k > reach ? k - reach : 0); other < std::min(band.to, k + reach + 1);
         ++other)
      if (levels[other]->ink - levels[k]->ink > kEdgeStep * band.depth)
        least = std::min(least.value_or(levels[k]->ink), levels[k]->ink);
  }
  return least;
}

// Half way from the ground beside it to its darkest, strips.
int height_of(const Levels& levels, const DarkBand& band, double ground, double beside) {
  const auto at = [&](std::size_t k) { return levels.begin() + static_cast<std::ptrdiff_t>(k); };
  const double half = 0.5 * (beside + ground + band.depth);
  return static_cast<int>(
      std::count_if(at(band.from), at(band.to), [half](const auto& level) { return level->ink > half; }));
}

// What a base line may be as broad as, pixels, with what strips add to it: more and more the less the blur leaves of
// the lines' own width, and less where it is `darker` than the lines.
double broadest(const Graduations& g, bool darker) {
  const double plain = (darker ? 1.0 : kBroad) * g.shape.width + kCut * kFineHeight,
               excess = g.shape.blur - kSineBlur * g.period;
  if (excess <= 0.0) return plain;
  return std::max(kLeastBesideWave, std::min(plain + kBroaderByBlur * excess, kBroadBesideWave * g.period));
}

}  // namespace

bool broad_band(const ImageView& image, const Graduations& g, double contrast) {
  const Strips strips = fine_strips(image, g);
  Levels levels(static_cast<std::size_t>(strips.layout.count));
  oneapi::tbb::parallel_for(0, strips.layout.count,
                            [&](int k) { levels[static_cast<std::size_t>(k)] = level_at(g, strips, k, contrast); });
  const OpenLines open = open_lines(levels);
  if (open.strips == 0) return false;
  const double ground = std::max(open.ground, ground_beyond(levels, contrast).value_or(open.ground));
  const bool own_contrast = g.shape.blur < kOwnContrast * g.shape.width,
             whole = own_contrast && open.strips * strips.layout.height > kWholeBlurs * g.shape.blur;
  const bool few = g.lines.size() < kFewLines, stubs = usual_length(g) < kStub;
  const std::vector<DarkBand> bands = bands_in(levels, ground, contrast);
  const auto reach = static_cast<std::size_t>(std::ceil(std::max(kLeastEdge, kEdgePeriods * g.period) / kFineHeight));
  return std::any_of(bands.begin(), bands.end(), [&](const DarkBand& band) {
    const auto beside = ground_beside(levels, band, reach);
    if (!beside || is_frame(levels, band, ground)) return false;
    const bool darker = own_contrast && band.depth > kDarker * open.height;
    // How far one goes that the picture's border cuts off nobody knows: too little to go by where lines are few. A base
    // line is as dark as the graduations on it.
    return (few && !is_bounded(levels, band)) || (stubs && (whole ? darker : band.depth > kDeep * contrast)) ||
           height_of(levels, band, ground, *beside) * strips.layout.height > broadest(g, darker);
  });
}

}  // namespace scale
