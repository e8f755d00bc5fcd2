#include "ruling/spaces.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include <oneapi/tbb/parallel_for.h>
#include <Eigen/Core>

#include "numeric/robust.h"
#include "ruling/separable.h"

namespace scale {

namespace {

constexpr double kCrossed = 0.3;             // of the contrast, for a space to count as crossed
constexpr double kCrossedThroughout = 0.15;  // the same, for what crosses all of them
constexpr double kLeastOpen = 0.3;           // of the strips
constexpr double kFineHeight = 3.0;          // pixels: strips fine enough for the yarns of a cloth
constexpr int kLeastFineStrips = 3, kMostFineStrips = 160;
constexpr std::size_t kNear = 20;  // strips to either side
constexpr std::size_t kSteady = 5;
constexpr double kUnknown = 1e300;
constexpr double kLeastSpaces = 4.0;    // to judge by
constexpr double kLeastCrossed = 0.04;  // of a space: less is the grain of the ground, or a speck
constexpr double kEnds = 0.1;           // of the usual length
constexpr double kSoft = 1.5;           // pixels of blur
constexpr double kEndBlurs = 2.5;
constexpr double kHeightOfGap = 0.25;       // of the period: rows of dots are about as far apart as their columns,
constexpr double kLeastPeriodOfGaps = 6.0;  // pixels: nearer dots run into one another
constexpr double kLeastHeight = 1.0;        // pixels
constexpr double kGap = 0.7;                // of the contrast: less is hardly a line
constexpr double kStandsOut = 0.9;          // of it, beside where other lines cross (nets: 0.97; spots: up to 1.6),
constexpr double kMostOffProfile = 0.035;   // and off the common profile (nets: 0.027; spots: 0.044)
constexpr double kMostGapNoise = 0.12;      // of the contrast
constexpr double kLeastOfWeave = 40.0;      // places where lines are compared
constexpr double kMostOfUsual = 3.0;        // standard deviations of the shifts of lines
constexpr double kSureOfWeave = 5.0;        // standard deviations

// Where most of the lines are, or any where they have nothing in common, at most kMostFineStrips strips of it.
StripLayout fine_layout(const Graduations& g, double height) {
  AlongRange range = usual_range(g);
  if (range.high - range.low < kLeastFineStrips * height) range = whole_range(g);
  const double length = std::min(range.high - range.low, height * kMostFineStrips);
  StripLayout layout = g.strips.layout;
  layout.v0 = 0.5 * (range.low + range.high - length);
  layout.count = static_cast<int>(length / height);
  layout.height = height;
  layout.phases = 1;
  return layout;
}

// One flag for every space between neighbouring lines (rows) and every fine strip (columns).
struct Spaces {
  std::size_t strips = 0;
  std::vector<char> known, crossed;
  std::vector<double> off;  // how far the grey of a strip lies off that about it, grey values
  std::size_t count() const { return strips > 0 ? known.size() / strips : 0; }
  bool any_near(std::size_t space, std::size_t strip, std::size_t reach) const {
    const std::size_t from = strip > reach ? strip - reach : 0, to = std::min(strips - 1, strip + reach);
    for (std::size_t k = from; k <= to; ++k)
      if (crossed[space * strips + k] != 0) return true;
    return false;
  }
};

bool covers(const MeasuredLine& line, double v, double margin = 0.0) {
  return v >= line.v_low + margin && v <= line.v_high - margin;
}

// The level of a space about each strip, most of which is not crossed: light may change along it, though not within
// kSteady strips.
std::vector<double> usual_levels(std::span<const double> levels) {
  std::vector<double> usual(levels.size(), 0.0), near;
  for (std::size_t first = 0; first < levels.size(); first += kSteady) {
    const std::size_t end = std::min(levels.size(), first + kSteady), middle = (first + end) / 2;
    const std::size_t from = middle > kNear ? middle - kNear : 0, to = std::min(levels.size(), middle + kNear + 1);
    near.clear();
    std::copy_if(levels.begin() + static_cast<std::ptrdiff_t>(from), levels.begin() + static_cast<std::ptrdiff_t>(to),
                 std::back_inserter(near), [](double level) { return level < kUnknown; });
    std::fill(usual.begin() + static_cast<std::ptrdiff_t>(first), usual.begin() + static_cast<std::ptrdiff_t>(end),
              numeric::upper_median(near));
  }
  return usual;
}

// Which of the two lines beside a space must be there for it to be looked at.
enum class Beside { both, either };

Spaces find_spaces(const Graduations& g, const Strips& strips, double contrast, double noise, Beside beside) {
  Spaces spaces;
  const std::size_t lines = g.lines.size(), n = static_cast<std::size_t>(strips.layout.count);
  spaces.strips = n;
  spaces.known.assign((lines - 1) * n, 0);
  spaces.crossed.assign((lines - 1) * n, 0);
  spaces.off.assign((lines - 1) * n, 0.0);
  const double half = half_of_middle(g);
  // Where a line ends is known to some strips, and a soft end darkens the space beside it.
  const double margin =
      kEnds * strips.layout.count * kFineHeight + (g.shape.blur > kSoft ? kEndBlurs * g.shape.blur : 0.0);
  const double least = std::max(kCrossed * contrast, 5.0 * noise / std::sqrt(kFineHeight * 2.0 * half));
  std::vector<double> levels((lines - 1) * n, kUnknown);
  oneapi::tbb::parallel_for(std::size_t{0}, n, [&](std::size_t k) {
    const double v = strips.v_centre(static_cast<int>(k));
    for (std::size_t l = 0; l + 1 < lines; ++l) {
      if (g.lines[l + 1].index - g.lines[l].index != 1) continue;
      const int covering = covers(g.lines[l], v, margin) + covers(g.lines[l + 1], v, margin);
      if (covering < (beside == Beside::both ? 2 : 1)) continue;
      const double middle = 0.5 * (g.centre_at(l, v) + g.centre_at(l + 1, v));
      const auto level = mean_around(strips, static_cast<int>(k), middle, half);
      spaces.known[l * n + k] = level.has_value();
      levels[l * n + k] = level.value_or(kUnknown);
    }
  });
  oneapi::tbb::parallel_for(std::size_t{0}, lines - 1, [&](std::size_t l) {
    const std::span own(levels.data() + l * n, n);
    const std::vector<double> usual = usual_levels(own);
    for (std::size_t k = 0; k < n; ++k) {
      if (spaces.known[l * n + k] == 0) continue;
      spaces.off[l * n + k] = std::abs(own[k] - usual[k]);
      spaces.crossed[l * n + k] = spaces.off[l * n + k] > least;
    }
  });
  return spaces;
}

// A line across the ruling crosses all spaces at one place, or nearly; bricks and yarns cross every second one.
// Returns whether enough was seen to judge by.
bool judge_spaces(const Spaces& spaces, double period, FineLook& look) {
  const std::size_t reach = static_cast<std::size_t>(std::max(6.0, 0.12 * period) / kFineHeight);
  double known = 0.0, alone = 0.0, in_turns = 0.0;
  for (std::size_t l = 1; l + 1 < spaces.count(); ++l) {
    bool seen = false, turn = false;
    double known_strips = 0.0, single = 0.0;
    for (std::size_t k = 0; k < spaces.strips; ++k) {
      const auto known_at = [&](std::size_t space) { return spaces.known[space * spaces.strips + k] != 0; };
      if (!known_at(l - 1) || !known_at(l) || !known_at(l + 1)) continue;
      seen = true;
      known_strips += 1.0;
      if (spaces.crossed[l * spaces.strips + k] == 0) continue;
      if (spaces.any_near(l - 1, k, reach) || spaces.any_near(l + 1, k, reach)) continue;
      single += 1.0;
      const bool before = l >= 2 && spaces.any_near(l - 2, k, reach);
      const bool after = l + 2 < spaces.count() && spaces.any_near(l + 2, k, reach);
      turn = turn || (before && after) || (before && l + 3 >= spaces.count()) || (after && l < 2);
    }
    known += seen ? 1.0 : 0.0;
    alone += single > kLeastCrossed * known_strips ? 1.0 : 0.0;
    in_turns += turn ? 1.0 : 0.0;
  }
  if (known < kLeastSpaces) return false;
  look.broken = alone / known;
  look.in_turns = in_turns / known;
  return true;
}

// Strips along a line that crosses the whole ruling (and their neighbours): a base line, or another ruling. What all
// spaces have in common is seen where it covers a small part of a strip as well.
std::vector<char> crossed_throughout(const Spaces& spaces, double contrast) {
  std::vector<char> whole(spaces.strips, 0), result(spaces.strips, 0);
  for (std::size_t k = 0; k < spaces.strips; ++k) {
    std::vector<double> off;
    for (std::size_t l = 0; l < spaces.count(); ++l)
      if (spaces.known[l * spaces.strips + k] != 0) off.push_back(spaces.off[l * spaces.strips + k]);
    whole[k] = numeric::upper_median(std::move(off)) > kCrossedThroughout * contrast;
  }
  for (std::size_t k = 0; k < spaces.strips; ++k)
    result[k] = whole[k] != 0 || (k > 0 && whole[k - 1] != 0) || (k + 1 < spaces.strips && whole[k + 1] != 0);
  return result;
}

// The ground beside each line, as its windows found it: where, and its level.
std::vector<std::vector<std::pair<double, double>>> grounds_of(const Graduations& g) {
  std::vector<std::vector<std::pair<double, double>>> grounds(g.lines.size());
  for (const LineWindow& w : g.windows)
    if (w.used) grounds[w.line].emplace_back(g.strips.v_centre(w.strip), w.fit.background);
  return grounds;
}

// Height of the line at `centre` above or below the ground, grey values, with the common profile: what a mean over a
// pixel or two shows of a narrow line hangs on where the pixels fall.
std::optional<double> height_over(double ground, const Strips& strips, int strip, double centre,
                                  const LineShape& shape) {
  const std::size_t at = strips.at(strip, 0);
  const int from = std::max(0, static_cast<int>(std::ceil(centre - shape.window)) - strips.first),
            to = std::min(strips.bins, static_cast<int>(std::ceil(centre + shape.window)) - strips.first);
  double products = 0.0, squares = 0.0;
  for (int bin = from; bin < to; ++bin) {
    const std::size_t i = at + static_cast<std::size_t>(bin);
    const double t = strips.first + bin + static_cast<double>(strips.remainder[i]) - centre;
    if (strips.count[i] == 0.0F || std::abs(t) >= shape.window) continue;
    const double value = shape.at(t).value, pixels = strips.count[i];
    products += pixels * value * (static_cast<double>(strips.mean[i]) - ground);
    squares += pixels * value * value;
  }
  return squares > 0.0 ? std::optional(products / squares) : std::nullopt;
}

// Looks at single strips for lines that stop in them.
struct GapLook {
  const Graduations& g;
  const Strips& strips;
  double noise;
  LineShape shape = g.window_shape();

  double centre(int strip, std::size_t line) const { return g.centre_at(line, strips.v_centre(strip)); }

  // Is the line as high and of the same profile in this strip as everywhere, above the ground that is beside it here?
  bool stands_out(int strip, std::size_t line) const {
    const auto fit = fit_window(strips, strip, centre(strip, line), shape, {});
    if (!fit || !(fit->amplitude / g.lines[line].amplitude > kStandsOut)) return false;
    const double rows = std::max(1.0, fit->pixels / (2.0 * g.shape.window));
    const double misfit = std::sqrt(std::max(0.0, fit->residual_variance - noise * noise) / rows);
    return misfit < kMostOffProfile * std::abs(fit->amplitude);
  }

  // Where other lines cross, blurred into the ground, a line does not stand out from that, but still from what is
  // beside it here; between round spots it does not do so with the same profile. Nothing where the strip is not seen.
  std::optional<bool> is_gap(int strip, std::size_t line, double ground) const {
    const auto height = height_over(ground, strips, strip, centre(strip, line), g.shape);
    if (!height) return std::nullopt;
    return *height / g.lines[line].amplitude < kGap && !stands_out(strip, line);
  }
};

double gaps_in_lines(const Graduations& g, const Strips& strips, double noise) {
  const double margin = std::max(strips.layout.height, kEndBlurs * g.shape.blur);
  const auto grounds = grounds_of(g);
  const GapLook look{g, strips, noise};
  const std::size_t stride = standing_for_all(g.lines.size());
  std::vector<double> shares((g.lines.size() + stride - 1) / stride, kUnknown);
  oneapi::tbb::parallel_for(std::size_t{0}, shares.size(), [&](std::size_t i) {
    const std::size_t l = i * stride;
    if (grounds[l].empty()) return;
    double seen = 0.0, gaps = 0.0;
    for (int k = 0; k < strips.layout.count; ++k) {
      const double v = strips.v_centre(k);
      if (!covers(g.lines[l], v, margin)) continue;
      const auto near = std::min_element(grounds[l].begin(), grounds[l].end(), [v](const auto& a, const auto& b) {
        return std::abs(a.first - v) < std::abs(b.first - v);
      });
      if (std::abs(near->first - v) > 0.5 * g.strips.layout.height) continue;  // the line may have ended before
      const auto gap = look.is_gap(k, l, near->second);
      if (!gap) continue;
      seen += 1.0;
      gaps += *gap ? 1.0 : 0.0;
    }
    if (seen > 0.0) shares[i] = gaps / seen;
  });
  std::erase(shares, kUnknown);
  return shares.empty() ? 0.0 : numeric::upper_median(std::move(shares));
}

// Are there rows of spots where the lines should be? Looked for where they are far enough apart and out of the noise.
void look_for_spots(const ImageView& image, const Graduations& g, const Strips& fine, double contrast, double noise,
                    FineLook& look) {
  const double height = std::clamp(kHeightOfGap * g.period, kLeastHeight, kFineHeight);
  const double pixels = std::max(1.0, g.shape.width) * height;
  const StripLayout layout = fine_layout(g, height);
  if (g.period < kLeastPeriodOfGaps || layout.count < kLeastFineStrips ||
      noise / std::sqrt(pixels) > kMostGapNoise * contrast)
    return;
  Strips finer;
  if (height < kFineHeight) finer = sum_strips(image, layout);
  const Strips& strips = height < kFineHeight ? finer : fine;
  look.gaps = gaps_in_lines(g, strips, noise);
  const Crossing crossing = look_across(strips, g, noise);
  look.crossing = crossing.all / contrast;
  look.rounded = crossing.inseparable / contrast;
}

using Fits = std::vector<std::optional<WindowFit>>;  // one row for each line, one column for each strip

Fits fits_everywhere(const Graduations& g, const Strips& strips) {
  const LineShape shape = g.window_shape();
  const std::size_t stride = standing_for_all(g.lines.size());
  const std::size_t n = static_cast<std::size_t>(strips.layout.count), lines = (g.lines.size() + stride - 1) / stride;
  Fits fits(lines * n);
  oneapi::tbb::parallel_for(std::size_t{0}, n, [&](std::size_t k) {
    const double v = strips.v_centre(static_cast<int>(k));
    for (std::size_t i = 0; i < lines; ++i)
      if (const std::size_t l = i * stride; covers(g.lines[l], v, kFineHeight))
        fits[i * n + k] = fit_window(strips, static_cast<int>(k), g.centre_at(l, v), shape, {});
  });
  return fits;
}

// Robust change of the amplitude over two strips, grey values: a change of focus or light along the line is slow
// against that.
double change_along(const Fits& fits, const std::vector<char>& crossed, double noise) {
  std::vector<double> all, amplitudes;
  double variance = 0.0;
  for (std::size_t row = 0; row < fits.size(); row += crossed.size()) {
    amplitudes.clear();
    for (std::size_t k = 0; k < crossed.size(); ++k) {
      const auto& fit = fits[row + k];
      if (!fit || crossed[k] != 0) continue;
      amplitudes.push_back(fit->amplitude);
      variance += noise * noise / std::max(1e-9, fit->amplitude_information);
    }
    for (std::size_t k = 0; k + 2 < amplitudes.size(); ++k)
      all.push_back(std::abs(amplitudes[k + 2] - amplitudes[k]) / std::sqrt(2.0));
  }
  if (all.empty()) return 0.0;
  variance /= static_cast<double>(all.size());
  const double scatter = numeric::kMadToSigma * numeric::upper_median(std::move(all));
  return std::sqrt(std::max(0.0, scatter * scatter - 2.0 * variance));
}

// Shifts less the median of their line and of their strip: what all lines have in common goes, and so does what one has
// everywhere. NaN where there is no fit.
Eigen::MatrixXd shifts_by_themselves(const Fits& fits, std::size_t strips) {
  const auto rows = static_cast<Eigen::Index>(fits.size() / strips), columns = static_cast<Eigen::Index>(strips);
  Eigen::MatrixXd own(rows, columns);
  for (Eigen::Index l = 0; l < rows; ++l)
    for (Eigen::Index k = 0; k < columns; ++k) {
      const auto& fit = fits[static_cast<std::size_t>(l * columns + k)];
      own(l, k) = fit ? fit->shift : std::nan("");
    }
  std::vector<double> seen;
  const auto centre = [&seen](auto&& values) {
    seen.clear();
    std::copy_if(values.begin(), values.end(), std::back_inserter(seen),
                 [](double value) { return !std::isnan(value); });
    if (!seen.empty()) values.array() -= numeric::upper_median(seen);
  };
  for (Eigen::Index l = 0; l < rows; ++l) centre(own.row(l));
  for (Eigen::Index k = 0; k < columns; ++k) centre(own.col(k));
  return own;
}

// No shift beyond what is usual: dirt lies over some of the lines, yarns dive everywhere.
void clip(Eigen::MatrixXd& own) {
  std::vector<double> sizes;
  for (const double value : own.reshaped())
    if (!std::isnan(value)) sizes.push_back(std::abs(value));
  if (sizes.empty()) return;
  const double most = kMostOfUsual * numeric::kMadToSigma * numeric::upper_median(std::move(sizes));
  for (double& value : own.reshaped()) value = std::isnan(value) ? value : std::clamp(value, -most, most);
}

// The sum over all strips of all lines of the product of the shifts of a line and its next but one, less that of a line
// and its next.
struct Turns {
  double sum = 0.0, squares = 0.0, count = 0.0;
};

Turns turns_of(const Eigen::MatrixXd& shifts) {
  Turns turns;
  for (Eigen::Index l = 0; l + 2 < shifts.rows(); ++l)
    for (Eigen::Index k = 0; k < shifts.cols(); ++k) {
      const double product = shifts(l, k) * shifts(l + 2, k) - shifts(l, k) * shifts(l + 1, k);
      if (std::isnan(product)) continue;
      turns.sum += product, turns.squares += product * product, turns.count += 1.0;
    }
  return turns;
}

// Yarns of one direction dive under those of the other by turns, and those on top are broader there: the gap beside
// them gives way where its neighbours come nearer, and so do those after them. Products of the shifts of neighbours are
// then negative and those of the next but one positive, which shows out of much noise: all strips of all lines add to
// it.
double woven(const Fits& fits, std::size_t strips) {
  Eigen::MatrixXd own = shifts_by_themselves(fits, strips);
  const Turns turns = turns_of(own);
  if (turns.count < kLeastOfWeave || turns.sum < kSureOfWeave * std::sqrt(turns.squares)) return 0.0;
  clip(own);
  return std::sqrt(std::max(0.0, 0.5 * turns_of(own).sum / turns.count));
}

}  // namespace

std::size_t standing_for_all(std::size_t lines) {
  constexpr std::size_t kEnough = 32;
  for (const std::size_t stride : {13U, 11U, 9U, 7U, 3U})
    if (lines >= stride * kEnough) return stride;
  return 1;
}

FineLook look_finely(const ImageView& image, const Graduations& g, double contrast, double noise) {
  FineLook look;
  const StripLayout layout = fine_layout(g, kFineHeight);
  if (layout.count < kLeastFineStrips) return look;
  const Strips strips = sum_strips(image, layout);
  look_for_spots(image, g, strips, contrast, noise, look);
  const Spaces spaces = find_spaces(g, strips, contrast, noise, Beside::both);
  // Some lines of a wall are followed to the first brick only.
  if (!judge_spaces(spaces, g.period, look))
    judge_spaces(find_spaces(g, strips, contrast, noise, Beside::either), g.period, look);
  const std::vector<char> crossed = crossed_throughout(spaces, contrast);
  const Fits fits = fits_everywhere(g, strips);
  look.woven = woven(fits, crossed.size());
  // The lines of a dense grid leave nothing to look at between them.
  const auto open = std::count(crossed.begin(), crossed.end(), char{0});
  if (static_cast<double>(open) >= kLeastOpen * static_cast<double>(layout.count))
    look.along = change_along(fits, crossed, noise) / contrast;
  return look;
}

}  // namespace scale
