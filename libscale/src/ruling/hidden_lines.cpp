#include "ruling/hidden_lines.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr double kLonger = 1.08;          // middle between long and short lines, of the short ones
constexpr double kBorder = 4.0;           // pixels
constexpr double kLevelsKept = 0.85;      // of the lines that must be as long as their place says
constexpr double kTransition = 2.5;       // blurs beyond a line's end that are passed over
constexpr double kLookHeight = 2.5;       // blurs, of the look beyond it,
constexpr double kLeastLookHeight = 6.0;  // and at least so many pixels
constexpr double kLookWidths = 1.5;       // widths of the lines
constexpr double kNearLooks = 3.0;        // heights of a look, of what is near an end
constexpr double kLeastOfSwing = 0.4;     // half the swing lies between the mean of a wave and the ground, less noise
constexpr double kBlock = 1.5;         // darkness of a block over that of the lines: two lines in place of one give 2
constexpr double kLeastOfBlock = 1.2;  // in that look of the two that shows less of it: lines that go on give 1
constexpr double kLeastOfShape = 0.5;  // mean darkness of lines over that of their profile
constexpr double kLeastInView = 0.4;   // of the bins of a look
constexpr double kMostBlock = 12.0;    // the same: ten lines in place of one, and a little
constexpr double kLighter = 0.6;     // of the lines' darkness: how far a wave stays above its ground; a block, by more
constexpr double kMostUneven = 1.0;  // of the lines' contrast: by so much the light may change the ground beside them
constexpr double kLeastOfNegative = 0.65, kMostBetweenEnds = 0.4;  // of the lines' contrast
constexpr std::size_t kLeastOwnEnds = 4, kMostOwnEnds = 16;
constexpr double kLeastOwnShare = 0.3;  // of the lines' ends that must be in view
constexpr int kMostInside = 32;         // places along the lines that are looked at, half a look apart
constexpr int kCrossedChanges = 4;      // from block to none and back: a base line makes two
constexpr double kClean = 0.7;  // darkness beyond the ends that nothing finer could leave: the lines go on in it

// Does the place `v` of a line, or of what would go on from it, lie inside the picture?
bool in_view(const ImageView& image, const Graduations& g, std::size_t l, double v) {
  const double c = std::cos(g.strips.layout.angle), s = std::sin(g.strips.layout.angle), t = g.centre_at(l, v) * c;
  const double x = t * c - v * s, y = t * s + v * c;
  return x > kBorder && y > kBorder && x < image.width - kBorder && y < image.height - kBorder;
}

bool ends_in_view(const ImageView& image, const Graduations& g, std::size_t l) {
  return in_view(image, g, l, g.lines[l].v_low) && in_view(image, g, l, g.lines[l].v_high);
}

// Is every m-th line longer than the others? Returns which of them: the remainder of its index.
std::optional<int> longer_every(const Graduations& g, const std::vector<std::size_t>& lines, int m) {
  for (int phase = 0; phase < m; ++phase) {
    std::vector<double> marked, others;
    for (const std::size_t l : lines)
      (g.lines[l].index % m == phase ? marked : others).push_back(g.lines[l].v_high - g.lines[l].v_low);
    if (marked.size() < 2 || others.size() < 4) continue;
    const double usual = numeric::quantile(others, 0.8), limit = 0.5 * (usual + numeric::quantile(marked, 0.3));
    if (limit < kLonger * usual) continue;
    const auto above = [limit](double length) { return length > limit; };
    const auto right = std::count_if(marked.begin(), marked.end(), above) +
                       std::count_if(others.begin(), others.end(), [&](double length) { return !above(length); });
    if (static_cast<double>(right) > kLevelsKept * static_cast<double>(lines.size())) return phase;
  }
  return std::nullopt;
}

// Every tenth line longer, and no other fifth one as long: where the fifth ones are all of one length, the lines may be
// every second of a scale that marks its second and tenth ones. Neighbours are compared, since lines may grow shorter
// from one end to the other.
bool marked_in_tens(const Graduations& g, const std::vector<std::size_t>& lines) {
  const auto tenth = longer_every(g, lines, 10);
  if (!tenth) return false;
  std::map<int, double> fifths;  // length by number from the tenth one on
  for (const std::size_t l : lines)
    if ((g.lines[l].index - *tenth) % 5 == 0)
      fifths[(g.lines[l].index - *tenth) / 5] = g.lines[l].v_high - g.lines[l].v_low;
  double pairs = 0.0, longer = 0.0;
  for (const auto& [number, length] : fifths) {
    const auto next = fifths.find(number + 1);
    if (next == fifths.end()) continue;
    const bool even = number % 2 == 0;
    pairs += 1.0;
    longer += (even ? length : next->second) > kLonger * (even ? next->second : length) ? 1.0 : 0.0;
  }
  return longer >= kLevelsKept * pairs;
}

// Mean grey value of the bins [from, to) of one strip; nothing where less than `least` of them are in view.
std::optional<double> level_between(const Strips& strip, double from, double to, double least) {
  double sum = 0.0, full = 0.0;
  for (int b = 0; b < strip.bins; ++b) {
    const double s = strip.first + b, rows = static_cast<double>(strip.count[static_cast<std::size_t>(b)]);
    if (s < from || s >= to || rows < 0.5 * strip.layout.height) continue;
    sum += static_cast<double>(strip.mean[static_cast<std::size_t>(b)]);
    full += 1.0;
  }
  if (full < least * (to - from)) return std::nullopt;
  return sum / full;
}

// The same of most of the periods from `from` to `to`: a label lies over some.
std::optional<double> level_of_periods(const Strips& strip, double from, double to, double period) {
  const double periods = std::max(1.0, std::round((to - from) / period)), step = (to - from) / periods;
  std::vector<double> levels;
  for (double i = 0.0; i < periods; i += 1.0)
    if (const auto level = level_between(strip, from + i * step, from + (i + 1.0) * step, 1.0 - kLeastInView))
      levels.push_back(*level);
  if (static_cast<double>(levels.size()) < kLeastInView * periods) return std::nullopt;
  return numeric::median(std::span<const double>(levels));
}

// A band of v over the span of the lines: its level, and the same beside them where that is in view.
struct Look {
  double level = 0.0;
  std::optional<double> beside;
};

std::optional<Look> look_at(const ImageView& image, const Graduations& g, double low, double height) {
  const Strips strip = one_strip(image, g.strips.layout.angle, low, low + height);
  const double first = std::min(g.lines.front().s, g.lines.back().s),
               last = std::max(g.lines.front().s, g.lines.back().s);
  const auto level = level_of_periods(strip, first, last, g.period);
  if (!level) return std::nullopt;
  const auto left = level_between(strip, first - 3.0 * g.period, first - g.period, kLeastInView),
             right = level_between(strip, last + g.period, last + 3.0 * g.period, kLeastInView);
  if (left && right) return Look{*level, 0.5 * (*left + *right)};  // light that falls off along the ruling cancels
  return Look{*level, std::nullopt};
}

// Do so many ends in view, of so many that were looked at, speak for all?
bool enough_ends(std::size_t seen, std::size_t looked) {
  return seen >= kLeastOwnEnds && kLeastOwnShare * static_cast<double>(looked) <= static_cast<double>(seen);
}

// Where the shortest lines stop: of those whose end is in view, where there are enough.
double end_of_lines(const ImageView& image, const Graduations& g, bool above) {
  std::vector<double> ends, seen;
  for (std::size_t l = 0; l < g.lines.size(); ++l) {
    const double end = above ? g.lines[l].v_high : g.lines[l].v_low;
    ends.push_back(end);
    if (in_view(image, g, l, end)) seen.push_back(end);
  }
  return numeric::quantile(enough_ends(seen.size(), ends.size()) ? std::move(seen) : std::move(ends),
                           above ? 0.2 : 0.8);
}

double look_height(const Graduations& g) {
  return std::max({kLeastLookHeight, kLookHeight * g.shape.blur, kLookWidths * g.shape.width});
}

// The ground between the lines near one of their ends: light may fall off along them. As near as half of them are seen:
// single ones stand where light is of another brightness.
double ground_near(const ImageView& image, const Graduations& g, bool above) {
  const double end = end_of_lines(image, g, above);
  std::vector<double> distances, near;
  for (const LineWindow& w : g.windows)
    if (w.used) distances.push_back(std::abs(g.strips.v_centre(w.strip) - end));
  std::sort(distances.begin(), distances.end());
  const double half = distances.empty() ? 0.0 : distances[std::min(distances.size() - 1, g.lines.size() / 2)];
  const double reach = std::max(kNearLooks * look_height(g), half);
  for (const LineWindow& w : g.windows)
    if (w.used && std::abs(g.strips.v_centre(w.strip) - end) <= reach) near.push_back(w.fit.background);
  return numeric::upper_median(std::move(near));
}

// Where to look beyond one end of the lines: twice the height of a look.
AlongRange range_beyond(const ImageView& image, const Graduations& g, bool above) {
  const double skip = kTransition * g.shape.blur, height = 2.0 * look_height(g), end = end_of_lines(image, g, above);
  return above ? AlongRange{end + skip, end + skip + height} : AlongRange{end - skip - height, end - skip};
}

// Two looks beyond one end of the lines; none where one of them is not in view. A base line fills one of them at most.
std::vector<Look> looks_beyond(const ImageView& image, const Graduations& g, bool above) {
  const AlongRange range = range_beyond(image, g, above);
  const double height = look_height(g);
  std::vector<Look> looks;
  for (const double from : {range.low, range.low + height}) {
    const auto look = look_at(image, g, from, height);
    if (!look) return {};
    looks.push_back(*look);
  }
  return looks;
}

// The mean over a period of what the lines' profile stands out of the ground.
double darkness_of_shape(const Graduations& g, double amplitude) {
  double area = 0.0, samples = 0.0;
  for (double t = -0.5 * g.period; t < 0.5 * g.period; t += LineShape::step, samples += 1.0)
    area += g.shape.at(std::clamp(t, -g.shape.reach, g.shape.reach)).value;
  return amplitude * area / samples;
}

// The lines themselves near one of their ends, their mean over a period.
Look look_at_lines(const ImageView& image, const Graduations& g, bool above, double ground, double amplitude) {
  AlongRange range = common_range(g);
  const double reach = kNearLooks * look_height(g);
  if (above)
    range.low = std::max(range.low, range.high - reach);
  else
    range.high = std::min(range.high, range.low + reach);
  if (range.high - range.low >= kLeastLookHeight)
    if (const auto look = look_at(image, g, range.low, range.high - range.low)) return *look;
  return {ground + darkness_of_shape(g, amplitude), std::nullopt};
}

// One end of the lines: the ground between them, their mean, and what lies beyond.
struct End {
  double ground = 0.0;
  Look lines;
  std::vector<Look> looks;
};

// What lies beside the lines is no ground where it is far more like them than what is seen between them, as the frame
// round the field of an eyepiece is beside dark lines. Far less like them it may be: they may lie in a block.
void drop_no_ground(End& end, double amplitude) {
  const auto check = [&](Look& look) {
    if (look.beside && (*look.beside - end.ground) / amplitude > kMostUneven) look.beside.reset();
  };
  check(end.lines);
  for (Look& look : end.looks) check(look);
}

// Where the lines end in steps, or in part out of view: the darkness beyond the own end of each, as a part of what the
// lines have in the mean, of which most are below what is returned; nothing where few ends are in view.
std::optional<double> beyond_own_ends(const ImageView& image, const Graduations& g, bool above, const End& end) {
  const double skip = kTransition * g.shape.blur, way = above ? 1.0 : -1.0,
               height = std::max(kLeastLookHeight, kLookHeight * g.shape.blur);
  const double darkness = end.lines.level - end.ground;
  if (darkness == 0.0 || !std::isfinite(darkness)) return std::nullopt;
  const std::size_t step = 1 + g.lines.size() / kMostOwnEnds;
  std::vector<double> shares;
  std::size_t looked = 0;
  for (std::size_t l = 0; l < g.lines.size(); l += step, ++looked) {
    const double own = above ? g.lines[l].v_high : g.lines[l].v_low, from = own + way * skip, to = from + way * height,
                 s = g.centre_at(l, 0.5 * (from + to));
    if (!in_view(image, g, l, own) || !in_view(image, g, l, to)) continue;
    const Strips strip = one_strip(image, g.strips.layout.angle, std::min(from, to), std::max(from, to));
    const auto level = level_between(strip, s - 0.5 * g.period, s + 0.5 * g.period, 1.0 - kLeastInView);
    if (level) shares.push_back((*level - end.ground) / darkness);
  }
  if (!enough_ends(shares.size(), looked)) return std::nullopt;
  return numeric::quantile(std::move(shares), 0.8);
}

// The grey value that the lines stand out from. Where they are blurred into a wave that has no ground it is seen beside
// them, or beyond their other end, moved by what the light changes between the two; but not where what is seen there
// differs less from the mean of the lines than a ground can, which lies outside the swing of the wave.
std::optional<double> ground_of(const End& end, const End& other, bool wave, double swing) {
  if (!wave) return end.ground;
  const auto differs = [&](double ground) { return std::abs(end.lines.level - ground) >= kLeastOfSwing * swing; };
  if (end.lines.beside && differs(*end.lines.beside)) return end.lines.beside;
  for (const Look& look : end.looks)
    if (look.beside && differs(*look.beside)) return look.beside;
  if (other.looks.empty()) return std::nullopt;
  double beyond = end.lines.level - other.lines.level;
  for (const Look& look : other.looks) beyond += look.level / static_cast<double>(other.looks.size());
  return differs(beyond) ? std::optional(beyond) : std::nullopt;
}

// How dark it is beyond one end, as a part of the mean darkness of the lines themselves: the least and the most of its
// looks.
struct Beyond {
  double least = 1e300, most = -1e300;
};

// Where light changes so much along the lines that their mean is not that of their profile, `of_shape`, that counts; it
// is nought where a wave leaves none to tell.
std::optional<Beyond> compare(const End& end, std::optional<double> ground, double of_shape) {
  if (end.looks.empty() || !ground) return std::nullopt;
  double darkness = end.lines.level - *ground;
  if (of_shape != 0.0 && darkness / of_shape < kLeastOfShape) darkness = of_shape;
  if (darkness == 0.0 || !std::isfinite(darkness)) return std::nullopt;
  Beyond beyond;
  for (const Look& look : end.looks) {
    const double share = (look.level - look.beside.value_or(*ground)) / darkness;
    beyond.least = std::min(beyond.least, share);
    beyond.most = std::max(beyond.most, share);
  }
  return beyond;
}

// Are the lines crossed again and again by what is as dark as a block, with ground between? Then it is another ruling,
// which lies beyond their ends as well.
bool crossed_in_turns(const ImageView& image, const Graduations& g, const End& end, double ground, bool above) {
  const double height = look_height(g), from_end = end_of_lines(image, g, above);
  int changes = 0;
  bool dark = true;
  for (int i = 0; i < kMostInside; ++i) {
    const double away = 0.5 * height * i, low = above ? from_end - away - height : from_end + away;
    const auto look = look_at(image, g, low, height);
    if (!look) break;
    const double share = (look->level - ground) / (end.lines.level - ground);
    const bool changed = dark ? share < kLeastOfBlock : share > kBlock;
    dark = dark != changed;
    changes += changed;
  }
  return changes >= kCrossedChanges;
}

// Lines broader than their spaces are read as the spaces' negative: beyond both ends lies what is in their midst, or
// more where blur leaves less of it between the lines. A block of finer lines would lie beyond one end. At one end a
// base line may lie in the nearer look.
bool is_negative(const End& below, const End& above, double amplitude) {
  if (below.looks.empty() || above.looks.empty()) return false;
  const auto heights = [&](const End& end, const Look& near, const Look& far) {
    return std::pair{(near.level - end.ground) / amplitude, (far.level - end.ground) / amplitude};
  };
  const auto low = heights(below, below.looks.back(), below.looks.front()),
             high = heights(above, above.looks.front(), above.looks.back());
  return std::max(low.first, high.first) > kLeastOfNegative && std::min(low.second, high.second) > kLeastOfNegative &&
         std::abs(low.second - high.second) < kMostBetweenEnds;
}

}  // namespace

HiddenLines hidden_lines(const ImageView& image, const Graduations& g) {
  std::vector<double> amplitudes;
  for (const LineWindow& w : g.windows)
    if (w.used) amplitudes.push_back(w.fit.amplitude);
  const double amplitude = numeric::upper_median(std::move(amplitudes));
  const bool wave = g.shape.blur > kSineBlur * g.period;
  const auto end_of = [&](bool up) {
    const double ground = ground_near(image, g, up);
    End end{ground, look_at_lines(image, g, up, ground, amplitude), looks_beyond(image, g, up)};
    drop_no_ground(end, amplitude);
    return end;
  };
  const End below = end_of(false), above = end_of(true);
  if (is_negative(below, above, amplitude)) return {HiddenLines::Verdict::none, {}, 0.0};
  const auto ground_below = ground_of(below, above, wave, std::abs(amplitude)),
             ground_above = ground_of(above, below, wave, std::abs(amplitude));
  const double of_shape = wave ? 0.0 : darkness_of_shape(g, amplitude);
  const auto low = compare(below, ground_below, of_shape), high = compare(above, ground_above, of_shape);
  const auto is_block = [](const std::optional<Beyond>& b) {
    return b && b->least > kLeastOfBlock && b->most > kBlock && b->most < kMostBlock;
  };
  const auto clean = [&](const std::optional<Beyond>& b, const End& end, bool up) {
    if (b && b->most < kClean) return true;
    if (!wave) {
      const auto own = beyond_own_ends(image, g, up, end);
      return own && *own < kClean;
    }
    if (b) return false;
    // No ground is in view, but what lies beyond the end may be just what the wave reaches between the lines.
    const auto own = compare(end, end.ground, 0.0);
    return own && own->least > -kLighter && own->most < kClean;
  };
  for (const bool up : {false, true})
    if (const auto& b = up ? high : low;
        is_block(b) && !crossed_in_turns(image, g, up ? above : below, up ? *ground_above : *ground_below, up))
      return {HiddenLines::Verdict::present, range_beyond(image, g, up), 0.5 * (b->least + b->most)};
  std::vector<std::size_t> whole;
  for (std::size_t l = 0; l < g.lines.size(); ++l)
    if (ends_in_view(image, g, l)) whole.push_back(l);
  const bool marked = marked_in_tens(g, whole);
  return {marked || (clean(low, below, false) && clean(high, above, true)) ? HiddenLines::Verdict::none
                                                                           : HiddenLines::Verdict::possible,
          {},
          0.0};
}

}  // namespace scale
