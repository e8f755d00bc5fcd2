#include "specimen/edges.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "numeric/robust.h"
#include "specimen/edge_doubts.h"
#include "specimen/rim_fit.h"

namespace scale {
namespace {

constexpr double kStep = 0.5;         // pixels between samples of a profile
constexpr double kAlong = 7.0;        // pixels along the border over which profiles are averaged
constexpr double kClear = 2.5;        // blurs from an edge where its slope has ended (0.6 % of the step left)
constexpr double kLevelLength = 3.0;  // pixels over which a level is averaged
constexpr double kForeign = 0.12;     // share of the step by which the ground outside may be off: it moves the edge by
                                      // 0.15 blurs at most
constexpr double kRimDrop = 0.12;     // a rim stands out from the middle by this share of the step
constexpr double kHintOfRim = 0.03;   // likewise, from which on there may be one that blur has filled in
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

struct Window {
  double inside = 0.0, outside = 0.0;  // pixels
  int count() const { return static_cast<int>(std::lround((inside + outside) / kStep)) + 1; }
};

Window window_for(double blur, const Border& border) {
  const double room = *std::max_element(border.room.begin(), border.room.end());
  return {std::min(room + 2.0, 6.0 * blur + 5.0), kClear * blur + kLevelLength + 4.0};
}

// Averaged profiles, one row a point of the border.
class Profiles {
 public:
  Profiles(const Relief& relief, const Border& border, const Window& window)
      : window_(window),
        columns_(window.count()),
        last_(columns_ - 1.0),
        closed_(border.closed),
        values_(border.at.size() * columns_) {
    std::vector<float> raw(values_.size());
    for (std::size_t i = 0; i < border.at.size(); ++i)
      relief.profile(border.at[i] - border.outward[i] * window.inside, border.outward[i] * kStep, columns_,
                     raw.data() + i * columns_);
    const double spacing = border.at.size() > 1 ? std::max(0.1, cv::norm(border.at[1] - border.at[0])) : 1.0;
    half_ = std::max(0, static_cast<int>(std::lround(0.5 * (kAlong / spacing - 1.0))));
    average(raw);
  }

  std::size_t size() const { return columns_ > 0 ? values_.size() / columns_ : 0; }
  int along() const { return 2 * half_ + 1; }
  const Window& window() const { return window_; }

  // At `t` pixels outwards from the border's point; NaN where it was not sampled.
  double at(std::size_t i, double t) const {
    const double place = (t + window_.inside) / kStep;
    if (!(place >= 0.0 && place < last_)) return kNan;
    const int j = static_cast<int>(place);
    const float* row = values_.data() + i * columns_;
    return static_cast<double>(row[j]) + (place - j) * static_cast<double>(row[j + 1] - row[j]);
  }

  // Adds the values at `start` and on, at half of the samples' distance, as `at` gives them; what was not sampled
  // counts for nothing. Every second place lies at the same share of the way between its samples.
  void add_to(std::vector<double>& sums, std::vector<int>& counts, std::size_t i, double start) const {
    const float* row = values_.data() + i * columns_;
    if (!std::isfinite(row[0])) return;  // such rows have no value at all
    for (const int odd : {0, 1}) {
      const double first = (start + window_.inside) / kStep + 0.5 * odd;
      const auto whole = static_cast<std::ptrdiff_t>(std::floor(first));
      const double share = first - static_cast<double>(whole);
      const auto end =
          std::min<std::ptrdiff_t>((static_cast<std::ptrdiff_t>(sums.size()) + 1 - odd) / 2, columns_ - 1 - whole);
      for (auto m = std::max<std::ptrdiff_t>(0, -whole); m < end; ++m) {
        const double here = static_cast<double>(row[whole + m]), next = static_cast<double>(row[whole + m + 1]);
        sums[2 * m + odd] += here + share * (next - here);
        ++counts[2 * m + odd];
      }
    }
  }

  double mean(std::size_t i, double from, double to) const {
    double sum = 0.0;
    int count = 0;
    for (double t = std::max(from, -window_.inside); t <= std::min(to, window_.outside - 1e-9); t += kStep, ++count)
      sum += at(i, t);
    return count > 0 ? sum / count : kNan;
  }

 private:
  // Running sums along the border; rows that leave the frame are NaN and count for nothing.
  void average(const std::vector<float>& raw) {
    const auto rows = static_cast<std::ptrdiff_t>(raw.size() / columns_);
    std::vector<double> sum(columns_, 0.0);
    int used = 0;
    const auto row_of = [&](std::ptrdiff_t i) -> const float* {
      if (closed_) i = ((i % rows) + rows) % rows;
      if (i < 0 || i >= rows) return nullptr;
      const float* row = raw.data() + i * columns_;
      return std::isfinite(row[0]) && std::isfinite(row[columns_ - 1]) ? row : nullptr;
    };
    const auto add = [&](std::ptrdiff_t i, double sign) {
      const float* row = row_of(i);
      if (row == nullptr) return;
      used += sign > 0.0 ? 1 : -1;
      for (int j = 0; j < columns_; ++j) sum[j] += sign * static_cast<double>(row[j]);
    };
    for (std::ptrdiff_t i = -half_; i < half_; ++i) add(i, 1.0);
    for (std::ptrdiff_t i = 0; i < rows; ++i) {
      add(i + half_, 1.0);
      const bool enough = row_of(i) != nullptr && used > half_;
      float* const values = values_.data() + i * columns_;
      if (enough)
        for (int j = 0; j < columns_; ++j) values[j] = static_cast<float>(sum[j] / used);
      else
        std::fill_n(values, columns_, std::numeric_limits<float>::quiet_NaN());
      add(i - half_, -1.0);
    }
  }

  Window window_;
  int columns_;
  double last_;  // column
  bool closed_;
  int half_ = 0;
  std::vector<float> values_;
};

// Where profile i passes `level`, nearest to `near`; NaN when it does not.
double crossing(const Profiles& profiles, std::size_t i, double level, double near) {
  double t = near, value = profiles.at(i, t);
  if (!std::isfinite(value)) return kNan;
  const double way = value > level ? kStep : -kStep;  // outwards while still inside the body
  for (;;) {
    const double next = profiles.at(i, t + way);
    if (!std::isfinite(next)) return kNan;
    if ((next > level) != (value > level)) return t + way * (level - value) / (next - value);
    t += way, value = next;
  }
}

// How deep within an edge its level or its rim is looked for: what is stronger further in is a core of the body.
double reach_within(double blur) {
  constexpr double kWidestRim = 4.0;  // pixels, to its middle
  return 3.0 * blur + kWidestRim;
}

// First look: ground as it should be, the strongest value inside.
void locate_roughly(const Profiles& profiles, const Border& border, double blur, EdgeSet& edges) {
  for (std::size_t i = 0; i < profiles.size(); ++i) {
    double most = 0.0;
    const double inmost = -std::min({profiles.window().inside, border.room[i], reach_within(blur)});
    for (double t = inmost; t <= 1.0; t += kStep)
      if (const double value = profiles.at(i, t); value > most) most = value;
    edges.offset[i] = most > 0.0 ? crossing(profiles, i, 0.5 * most, 0.0) : kNan;
    edges.good[i] = std::isfinite(edges.offset[i]);
  }
}

struct Levels {
  double inside = kNan, outside = kNan;
};

Levels levels_of(const Profiles& profiles, std::size_t i, double edge, double room, const EdgeShape& shape) {
  const double clear = kClear * shape.blur + 0.5;
  Levels levels;
  levels.outside = profiles.mean(i, edge + clear, edge + clear + kLevelLength);
  if (shape.rimmed) {
    levels.inside = profiles.mean(i, edge - shape.rim_depth - 0.5, edge - shape.rim_depth + 0.75);
    return levels;
  }
  // Not beyond the middle, where the other edge begins to count.
  const double deepest = std::max(room + edge, 0.5), start = std::min(clear, std::max(deepest - 0.5, 0.25));
  levels.inside = profiles.mean(i, edge - std::min(start + kLevelLength, deepest), edge - start + 1e-9);
  return levels;
}

void locate(const Profiles& profiles, const Border& border, EdgeSet& edges) {
  std::vector<Levels> levels(profiles.size());
  std::vector<double> steps, outsides;
  for (std::size_t i = 0; i < profiles.size(); ++i) {
    if (!edges.good[i]) continue;
    levels[i] = levels_of(profiles, i, edges.offset[i], border.room[i], edges.shape);
    if (!std::isfinite(levels[i].inside) || !std::isfinite(levels[i].outside)) continue;
    steps.push_back(levels[i].inside - levels[i].outside);
    outsides.push_back(levels[i].outside);
  }
  edges.count = 0;
  if (steps.empty()) {
    edges.good.assign(edges.good.size(), false);
    return;
  }
  const double step = numeric::median_in_place(std::span<double>(steps));
  // The lower quartile: beside a fibre in a mat much of the "ground" is other fibres.
  std::nth_element(outsides.begin(), outsides.begin() + static_cast<std::ptrdiff_t>(outsides.size() / 4),
                   outsides.end());
  const double ground = outsides[outsides.size() / 4];
  for (std::size_t i = 0; i < profiles.size(); ++i) {
    const double own = levels[i].inside - levels[i].outside;
    const bool alike = edges.good[i] && std::abs(levels[i].outside - ground) < kForeign * step && own > 0.55 * step &&
                       own < 1.6 * step;
    edges.good[i] = alike;
    if (!alike) continue;
    edges.offset[i] = crossing(profiles, i, 0.5 * (levels[i].inside + levels[i].outside), edges.offset[i]);
    edges.good[i] = std::isfinite(edges.offset[i]);
    edges.count += edges.good[i];
  }
}

// All profiles laid over each other at their edges: values every quarter pixel from `first` outwards.
MeanProfile mean_profile(const Profiles& profiles, const EdgeSet& edges) {
  MeanProfile mean;
  mean.first = -profiles.window().inside;
  mean.step = 0.5 * kStep;
  const auto count = static_cast<std::size_t>((profiles.window().inside + profiles.window().outside) / mean.step);
  std::vector<double> sums(count, 0.0);
  std::vector<int> counts(count, 0);
  // Neighbours share most of their samples: a few hundred profiles tell as much as all.
  constexpr std::size_t kEnough = 200;
  const std::size_t every = std::max<std::size_t>(1, profiles.size() / kEnough);
  for (std::size_t i = 0; i < profiles.size(); i += every) {
    if (!edges.good[i]) continue;
    profiles.add_to(sums, counts, i, edges.offset[i] + mean.first);
  }
  // Only where most profiles have something to say.
  const int most = counts.empty() ? 0 : *std::max_element(counts.begin(), counts.end());
  for (std::size_t j = 0; j < count; ++j)
    mean.values.push_back(counts[j] > 0 && 2 * counts[j] >= most ? sums[j] / counts[j] : kNan);
  return mean;
}

struct Peak {
  double at = 0.0, height = 0.0, behind = 0.0;  // behind: the lowest value further in
};

Peak strongest(const MeanProfile& mean, double from, double to) {
  Peak peak{to, mean.at(to), mean.at(to)};
  for (double t = to; t >= from; t -= mean.step) {
    const double value = mean.at(t);
    if (!std::isfinite(value)) break;
    if (value > peak.height) peak = {t, value, value};
    peak.behind = std::min(peak.behind, value);
  }
  return peak;
}

// Blur that the steepest place of the profile tells; a single edge has the same between its quartiles.
double steepest_blur(const MeanProfile& mean, double step, double reach) {
  constexpr double kFull = 2.5066282746310002;  // sqrt(2 pi): step over slope of a Gaussian edge, in blurs
  double slope = 0.0;
  for (double t = -reach; t < reach; t += mean.step)
    if (const double fall = mean.at(t - 0.5) - mean.at(t + 0.5); fall > slope) slope = fall;
  return slope > 0.0 ? step / (kFull * slope) : 0.0;
}

// A rim that blur has all but filled in hardly stands out, but the half level lies outside its edge all the same.
void allow_for_hidden_rim(EdgeShape& shape, const MeanProfile& mean, double depth, double room, double known_blur) {
  const RimFit fit = fit_rim(mean, shape.outside, shape.step, depth, room, shape.blur, known_blur);
  constexpr double kShare = 0.5;  // standard uncertainty, of the correction: such a rim tells little of its shape
  if (fit.good) shape.correction = fit.edge, shape.doubt = std::max(fit.doubt, kShare * std::abs(fit.edge));
}

EdgeShape shape_of(const Profiles& profiles, const EdgeSet& edges, double room, double blur, double known_blur) {
  const MeanProfile mean = mean_profile(profiles, edges);
  EdgeShape shape;
  shape.blur = blur;
  shape.outside = mean.mean(kClear * blur + 0.5, profiles.window().outside - 1.0);
  if (!std::isfinite(shape.outside)) shape.outside = mean.mean(kClear * blur + 0.5, kClear * blur + 0.5 + kLevelLength);
  const Peak peak = strongest(mean, -std::min({room, profiles.window().inside - 1.0, reach_within(blur)}), -0.5);
  shape.rimmed = peak.height - peak.behind > kRimDrop * (peak.height - shape.outside);
  const double inside = shape.rimmed ? peak.height
                                     : mean.mean(-std::min(room, kClear * blur + 0.5 + kLevelLength),
                                                 -std::min(kClear * blur, std::max(room - 0.5, 0.5)) + 1e-9);
  shape.step = inside - shape.outside;
  const double quarter = mean.passes(shape.outside + 0.25 * shape.step);
  const double three = mean.passes(shape.outside + 0.75 * shape.step);
  constexpr double kQuartiles = 2.0 * 0.67449;  // between the 25 and 75 % points of a normal distribution
  if (std::isfinite(quarter) && std::isfinite(three)) shape.blur = std::max(0.2, (quarter - three) / kQuartiles);
  if (!shape.rimmed) {
    constexpr double kOne = 1.8, kLeastBlur = 0.7;  // a rod's edge has 1.3; pixels: slopes of sharper ones are not told
    const double steepest = std::max(kLeastBlur, steepest_blur(mean, shape.step, 3.0 * shape.blur + 1.0));
    shape.in_steps = shape.blur > kOne * steepest;
    if (peak.height - peak.behind > kHintOfRim * (peak.height - shape.outside))
      allow_for_hidden_rim(shape, mean, -peak.at, room, known_blur);
    const double round = round_edge_limit(mean, shape.outside, shape.step, shape.blur);
    shape.round = round > 0.0;
    shape.doubt = std::max({shape.doubt, doubt_out_of_focus(shape.blur, room, known_blur), round / std::sqrt(3.0)});
    return shape;
  }
  shape.rim_depth = -peak.at;
  const RimFit fit = fit_rim(mean, shape.outside, shape.step, shape.rim_depth, room, shape.blur, known_blur);
  // Not fitted: anywhere from the half level to that of a rim of no width, 1.18 blurs within; rectangular about it.
  constexpr double kNoWidth = 1.1774 / 1.7320508;  // sqrt(2 ln 2) / sqrt(3)
  shape.doubt = kNoWidth * shape.blur;
  if (fit.good) shape.correction = fit.edge, shape.blur = fit.blur, shape.doubt = fit.doubt;
  return shape;
}

// Scatter of offsets that no smooth edge makes: second differences at a distance at which noise is independent.
double noise_of(const EdgeSet& edges, int lag) {
  std::vector<double> sizes;
  for (std::size_t i = static_cast<std::size_t>(lag); i + static_cast<std::size_t>(lag) < edges.offset.size(); ++i) {
    const std::size_t before = i - static_cast<std::size_t>(lag), after = i + static_cast<std::size_t>(lag);
    if (!edges.good[before] || !edges.good[i] || !edges.good[after]) continue;
    sizes.push_back(std::abs(edges.offset[before] - 2.0 * edges.offset[i] + edges.offset[after]));
  }
  if (sizes.empty()) return 0.05;  // too short an edge to tell: what noise commonly makes of one
  constexpr double kSecondDifference = 2.449489742783178;  // sqrt(1 + 4 + 1)
  return numeric::kMadToSigma * numeric::median_in_place(std::span<double>(sizes)) / kSecondDifference;
}

}  // namespace

EdgeSet find_edges(const Relief& relief, const Border& border, double known_blur, double likely_blur) {
  EdgeSet edges;
  edges.offset.assign(border.at.size(), kNan);
  edges.good.assign(border.at.size(), false);
  if (border.at.size() < 3) return edges;
  std::vector<double> rooms = border.room;
  const double room = numeric::median_in_place(std::span<double>(rooms));
  double blur = std::max(known_blur, likely_blur);
  constexpr int kMostPasses = 3;
  for (int pass = 0; pass < kMostPasses; ++pass) {
    const Profiles profiles(relief, border, window_for(blur, border));
    locate_roughly(profiles, border, blur, edges);
    for (int round = 0; round < 2; ++round) {
      edges.shape = shape_of(profiles, edges, room, blur, known_blur);
      if (!(edges.shape.step > 0.0)) {
        edges.count = 0;
        return edges;
      }
      locate(profiles, border, edges);
    }
    edges.noise = noise_of(edges, profiles.along());
    edges.noise_length = kAlong;
    // Samples went far enough out for this blur: done. Where they did not, no profile may have been good.
    if (edges.shape.blur < 1.25 * blur) break;
    blur = edges.shape.blur;
  }
  return edges;
}

}  // namespace scale
