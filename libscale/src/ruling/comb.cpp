#include "ruling/comb.h"

#include <algorithm>
#include <cmath>

#include "numeric/robust.h"
#include "ruling/attempt.h"
#include "ruling/comb_sums.h"
#include "ruling/lattice.h"
#include "ruling/line_fit.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

// Judgement, all of it; checked by the accuracy suite.
constexpr double kFinerDepth = 0.2;       // of the lines' depth: as much between them is a finer division
constexpr std::size_t kLeastClear = 8;    // lines
constexpr double kLeastShare = 0.8;       // of the lines that are not covered,
constexpr double kLeastOfAll = 0.4;       // and of all
constexpr double kMostScatter = 0.03;     // of the pitch,
constexpr double kFreeScatter = 0.2;      // pixels that are never too much
constexpr double kMostUnequal = 0.35;     // scatter of the depths, of their median
constexpr double kLeastDepth = 0.03;      // of the ground's light
constexpr double kLeastExplained = 0.45;  // of the variance about a line, in the median
constexpr double kLeastLength = 0.5;      // of a line, in pitches: less are the ends of longer ones
constexpr double kEndLimit = 0.03;    // pixels, standard, of the distance of the end lines: as for a shape that is not
                                      // pinned at all fractions of a pixel
constexpr double kMadFreedom = 0.37;  // of the degrees of freedom that a median of deviations has for normal errors
constexpr double kTermsFitted = 4.0;  // at most, by the places of the lines
constexpr double kTests = 1e4;        // combs that might have been tried in one picture

struct Place {
  double x, y;
};

Place in_picture(double direction, double t, double v) {
  const double c = std::cos(direction), s = std::sin(direction);
  return {t * c - v * s, t * s + v * c};
}

// Depth at the fraction of a division beyond all lines, block by block.
std::vector<double> depths_between(const Light& light, const Comb& comb, double fraction, double v_low, double v_high) {
  std::vector<LineSums> sums;
  for (const CombLine& line : comb.lines) {
    if (line.index == comb.lines.back().index) continue;
    const LineRead read = read_line(light, comb, line.index + fraction, v_low, v_high);
    if (sums.empty()) sums.resize(read.blocks.size());
    for (std::size_t k = 0; k < read.blocks.size(); ++k) sums[k].add(read.blocks[k]);
  }
  std::vector<double> depths;
  for (const LineSums& block : sums) depths.push_back(block.coverage() > 0.2 ? block.solved({}).depth : 0.0);
  return depths;
}

// The comb with its pitch divided by `parts`, where all the lines between show.
std::optional<CombStart> divided(const Light& light, const Comb& comb, int parts) {
  double low = comb.v_low, high = comb.v_high;
  for (const CombLine& line : comb.lines)
    if (line.seen == Seen::clearly) low = std::min(low, line.v_low), high = std::max(high, line.v_high);
  std::vector<double> least;
  for (int j = 1; j < parts; ++j) {
    const auto depths = depths_between(light, comb, static_cast<double>(j) / parts, low, high);
    if (least.empty()) least.assign(depths.size(), 1e9);
    for (std::size_t k = 0; k < depths.size(); ++k) least[k] = std::min(least[k], depths[k] / comb.depth);
  }
  std::size_t from = 0, count = 0;
  for (std::size_t k = 0, run = 0; k < least.size(); ++k) {
    run = least[k] >= kFinerDepth ? run + 1 : 0;
    if (run > count) count = run, from = k + 1 - run;
  }
  if (count == 0) return std::nullopt;
  const double v_first = comb.v_low - std::ceil((comb.v_low - low) / kBlockHeight) * kBlockHeight;
  CombStart start;
  start.direction = comb.direction;
  start.v_low = v_first + static_cast<double>(from) * kBlockHeight;
  start.v_high = start.v_low + static_cast<double>(count) * kBlockHeight;
  const double by = 0.5 * (start.v_low + start.v_high) - comb.v0;
  const int first = comb.lines.front().index, last = comb.lines.back().index;
  for (int i = 0; i <= (last - first) * parts; ++i) {
    const double index = first + static_cast<double>(i) / parts;
    start.index.push_back(i);
    start.t.push_back(comb.at(index) + comb.slope(index) * by);
  }
  return start;
}

// Number of findings like this that chance would give: hits of places within the scatter.
double false_alarms(const Comb& comb) {
  const double hits = static_cast<double>(comb.count(Seen::clearly)) - 3.0,
               places = hits + static_cast<double>(comb.count(Seen::not_there));
  const double q = std::min(0.5, 6.0 * comb.scatter / comb.pitch());
  return std::max(1e-300, kTests * std::pow(10.0, log10_tail_bound(places, hits, q)));
}

void add_profile(Ruling& ruling, const Comb& comb) {
  const double end = std::min(0.5 * comb.pitch(), comb.shape.window);
  for (double t = -end; t <= end; t += LineShape::step) {
    ruling.profile_offset_px.push_back(t);
    ruling.profile_value.push_back(comb.shape.at(t).value);
  }
}

double along_axis(const Ruling& ruling, double x, double y) {
  return x * std::cos(ruling.direction.value) + y * std::sin(ruling.direction.value);
}

double along_lines(const Ruling& ruling, double x, double y) {
  return y * std::cos(ruling.direction.value) - x * std::sin(ruling.direction.value);
}

// Where lines fan out the pitch is that at one height: the mean of the lines' middles, as it is taken to be there.
void place_at_one_height(Ruling& ruling) {
  double height = 0.0;
  for (const Graduation& line : ruling.graduations)
    height += 0.5 * (along_lines(ruling, line.x1_px, line.y1_px) + along_lines(ruling, line.x2_px, line.y2_px));
  height /= static_cast<double>(ruling.graduations.size());
  for (Graduation& line : ruling.graduations) {
    const double v1 = along_lines(ruling, line.x1_px, line.y1_px), v2 = along_lines(ruling, line.x2_px, line.y2_px);
    const double t1 = along_axis(ruling, line.x1_px, line.y1_px), t2 = along_axis(ruling, line.x2_px, line.y2_px);
    line.position_px = t1 + (height - v1) / (v2 - v1) * (t2 - t1);
  }
}

void add_lines(Ruling& ruling, const Comb& comb) {
  std::vector<double> coverages;
  for (const CombLine& line : comb.lines)
    if (line.seen == Seen::clearly) coverages.push_back(line.coverage);
  const double usual = numeric::upper_median(std::move(coverages));
  for (const CombLine& line : comb.lines) {
    if (line.seen != Seen::clearly) continue;
    Graduation graduation;
    graduation.index = line.index;
    graduation.uncertainty_px = comb.scatter * std::sqrt(usual / line.coverage);
    const double slope = comb.slope(line.index);
    const Place a = in_picture(comb.direction, line.t + slope * (line.v_low - comb.v0), line.v_low);
    const Place b = in_picture(comb.direction, line.t + slope * (line.v_high - comb.v0), line.v_high);
    graduation.x1_px = a.x, graduation.y1_px = a.y, graduation.x2_px = b.x, graduation.y2_px = b.y;
    ruling.graduations.push_back(graduation);
  }
  place_at_one_height(ruling);
  if (ruling.graduations.back().position_px < ruling.graduations.front().position_px)
    std::reverse(ruling.graduations.begin(), ruling.graduations.end());
  const int zero = ruling.graduations.front().index;
  for (Graduation& line : ruling.graduations) line.index = std::abs(line.index - zero);
}

void fit(Ruling& ruling) {
  std::vector<LinePoint> points;
  for (const Graduation& line : ruling.graduations)
    points.push_back({line.index, line.position_px, line.uncertainty_px});
  const LineFit fit =
      fit_lines(points, kMadFreedom * std::max(1.0, static_cast<double>(points.size()) - kTermsFitted), kEndLimit);
  ruling.origin_px = fit.origin, ruling.pitch_px = fit.pitch, ruling.pitch_uncertainty_px = fit.pitch_uncertainty;
  ruling.degrees_of_freedom = fit.degrees_of_freedom;
  ruling.residual_rms_px = fit.residual_rms, ruling.residual_max_px = fit.residual_max;
  ruling.nonlinearity = fit.nonlinearity;
  ruling.nonlinearity_max_px = fit.nonlinearity_max, ruling.nonlinearity_p_value = fit.nonlinearity_p_value;
  for (std::size_t i = 0; i < points.size(); ++i) {
    Graduation& line = ruling.graduations[i];
    line.residual_px = fit.residual[i], line.used = fit.used[i];
    if (!line.used) ruling.rejected.push_back({line.x1_px, line.y1_px, line.x2_px, line.y2_px, "outlier"});
  }
}

}  // namespace

CombStart start_of(const Ruling& ruling) {
  CombStart start;
  start.direction = ruling.direction.value;
  const double c = std::cos(start.direction), s = std::sin(start.direction);
  std::vector<double> low, high;
  for (const Graduation& line : ruling.graduations) {
    const double a = line.y1_px * c - line.x1_px * s, b = line.y2_px * c - line.x2_px * s;
    low.push_back(std::min(a, b)), high.push_back(std::max(a, b));
    start.index.push_back(line.index);
    start.t.push_back(0.5 * ((line.x1_px + line.x2_px) * c + (line.y1_px + line.y2_px) * s));
  }
  start.v_low = numeric::quantile(low, 0.7), start.v_high = numeric::quantile(high, 0.3);
  if (start.v_high - start.v_low < 2.0 * kBlockHeight) {
    const double middle = 0.5 * (numeric::quantile(low, 0.5) + numeric::quantile(high, 0.5));
    start.v_low = middle - kBlockHeight, start.v_high = middle + kBlockHeight;
  }
  return start;
}

std::optional<Comb> finest_comb(const Light& light, Comb comb) {
  for (bool again = true; again;) {
    again = false;
    for (const int parts : {10, 5, 4, 3, 2}) {
      const auto start = divided(light, comb, parts);
      if (!start) continue;
      auto finer = fit_comb(light, *start);
      if (!finer || finer->pitch() > 0.6 * comb.pitch()) continue;
      comb = std::move(*finer);
      again = true;
      break;
    }
  }
  return comb;
}

bool believable(const Comb& comb) {
  const double clear = static_cast<double>(comb.count(Seen::clearly)),
               gone = static_cast<double>(comb.count(Seen::not_there));
  if (comb.count(Seen::clearly) < kLeastClear || clear < kLeastShare * (clear + gone) ||
      clear < kLeastOfAll * static_cast<double>(comb.lines.size()))
    return false;
  if (comb.scatter > std::max(kFreeScatter, kMostScatter * comb.pitch())) return false;
  std::vector<double> depths, explained, lengths;
  for (const CombLine& line : comb.lines) {
    if (line.seen != Seen::clearly) continue;
    depths.push_back(line.depth), explained.push_back(line.explained), lengths.push_back(line.v_high - line.v_low);
  }
  return std::abs(comb.depth) >= kLeastDepth && numeric::mad_sigma(depths) <= kMostUnequal * std::abs(comb.depth) &&
         numeric::upper_median(explained) >= kLeastExplained &&
         numeric::upper_median(lengths) >= kLeastLength * comb.pitch();
}

Ruling as_ruling(const Comb& comb) {
  Ruling ruling;
  // The axis lies at right angles to the lines.
  ruling.direction = {folded(comb.direction - std::atan(comb.lean))};
  add_lines(ruling, comb);
  fit(ruling);
  ruling.missing = places_missing(ruling);
  ruling.false_alarm = false_alarms(comb);
  ruling.dark_on_bright = comb.depth < 0.0;
  ruling.line_width_px = comb.shape.width, ruling.edge_blur_px = comb.shape.blur;
  const double turned_round = std::cos(ruling.direction.value - comb.direction) < 0.0 ? -1.0 : 1.0;
  ruling.pitch_growth_per_px = turned_round * comb.fan / (comb.half * comb.pitch());
  ruling.pitch_growth_uncertainty = comb.fan_uncertainty / (comb.half * comb.pitch());
  add_profile(ruling, comb);
  return ruling;
}

}  // namespace scale
