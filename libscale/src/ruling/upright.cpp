#include "ruling/upright.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>
#include <vector>

#include <oneapi/tbb/parallel_for.h>

#include "image/area_means.h"
#include "image/frame.h"
#include "numeric/robust.h"
#include "ruling/bands.h"
#include "ruling/edges.h"

namespace scale {

namespace {

constexpr double kEdgeThreshold = 4.0;  // noise levels
constexpr double kSmoothing = 1.5;      // bins
constexpr double kMostAngle = 0.85;     // radians: 45 degrees and what a candidate may be off
constexpr double kSmallTurn = 1e-4;     // radians: after a smaller one there is nothing left to correct
constexpr double kLargeTurn = 0.05;     // radians: after a larger one a third look may find more
constexpr int kMostPasses = 4;
constexpr double kLarge = 8e6;             // pixels of a picture, of which a smaller copy is looked at first,
constexpr int kStepToCheck = 4;            // strips: the lines shift by little from one to the next now
constexpr double kCoarseTurn = 0.005;      // radians: what is off by more than this after it was misled
constexpr double kRowsInStrip = 8.0;       // rows of a strip that are enough to see its edges
constexpr double kNarrow = 0.125;          // of the reach, through which slips are gathered,
constexpr double kWide[] = {0.5, 1.0};     // and where they scatter
constexpr double kLeastWeight = 0.15;      // of that of neighbouring strips
constexpr double kSureShare = 0.45;        // of the edges of neighbouring strips that agree
constexpr int kBlock = 8;                  // strips: 128 pixels, as long as the shorter lines of a scale
constexpr int kSharpSteps[] = {3, 10};     // bins, over which a step is taken: of sharp edges, of blurred ones
constexpr double kClearlySharper = 1.005;  // than what sharp edges say, which is the more exact
constexpr double kFirstStep = 0.008, kLastStep = 0.003;  // of the slope, about the sharpest
constexpr double kTiny = 1e-30;

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

// Of one strip in `every`.
std::vector<Edges> edges_of_strips(const Strips& strips, double noise, int every) {
  std::vector<Edges> edges(size_of((strips.layout.count + every - 1) / every));
  oneapi::tbb::parallel_for(0, static_cast<int>(edges.size()), [&](int k) {
    const Profile profile = strip_profile(strips, k * every);
    if (profile.end - profile.begin < 3) return;
    edges[size_of(k)] =
        edges_of(profile, edge_response(profile, kSmoothing),
                 kEdgeThreshold * noise / std::sqrt(strips.layout.height) * edge_response_gain(kSmoothing));
  });
  return edges;
}

// Histogram of s(k + lag) - s(k) - expected over the nearest edges of equal sign, within +-reach; its peak.
struct Slip {
  double shift = 0.0;
  double weight = 0.0;
  double share = 0.0;  ///< of the edges matched
};

// The peak is sought through a window of `window_share` of the reach.
Slip common_slip(const std::vector<Edges>& edges, int lag, double expected, double reach, double window_share) {
  constexpr double kBin = 0.05;
  const int half = static_cast<int>(std::ceil(reach / kBin));
  std::vector<double> votes(size_of(2 * half + 1), 0.0);
  const auto match = [&](const std::vector<Edge>& from, const std::vector<Edge>& to) {
    std::size_t j = 0;
    for (const Edge& edge : from) {
      const double target = edge.s + expected;
      while (j + 1 < to.size() && std::abs(to[j + 1].s - target) <= std::abs(to[j].s - target)) ++j;
      if (to.empty()) return;
      const int bin = static_cast<int>(std::floor((to[j].s - target) / kBin + 0.5));
      if (std::abs(bin) <= half) votes[size_of(bin + half)] += std::min(edge.strength, to[j].strength);
    }
  };
  for (std::size_t k = 0; k + size_of(lag) < edges.size(); ++k) {
    match(edges[k].rising, edges[k + size_of(lag)].rising);
    match(edges[k].falling, edges[k + size_of(lag)].falling);
  }
  const int window = std::max(2, static_cast<int>(window_share * half));
  Slip best;
  for (int b = 0; b <= 2 * half; ++b) {
    double sum = 0.0, moment = 0.0;
    for (int c = std::max(0, b - window); c <= std::min(2 * half, b + window); ++c) {
      const double weight = votes[size_of(c)] * (1.0 - std::abs(c - b) / (window + 1.0));
      sum += weight;
      moment += weight * (c - half);
    }
    if (sum > best.weight) best = {kBin * moment / sum, sum};
  }
  best.share = best.weight / std::max(std::reduce(votes.begin(), votes.end()), kTiny);
  return best;
}

// By how much the true slope of the graduations in these strips differs from the strips' own, in bins per pixel of v.
struct SlopeError {
  double slope = 0.0;
  bool sure = false;
};

SlopeError slope_error(const std::vector<Edges>& edges, double apart, double window) {
  SlopeError error;
  double reach = 1.4, first = 0.0;
  for (int lag = 1; size_of(lag) < edges.size() && lag <= 32; lag *= 2) {
    const Slip slip = common_slip(edges, lag, error.slope * lag * apart, reach, window);
    if (lag == 1) first = slip.weight, error.sure = slip.share > kSureShare;
    if (slip.weight <= kLeastWeight * first) break;  // further than the lines reach
    error.slope += slip.shift / (lag * apart);
    reach = 1.0;
  }
  return error;
}

// How sharp the picture is when strips are set together along `slope`: sum of squares of the steps in the sums of
// blocks of strips. Lines that the shear follows stay sharp, whatever their edges are like.
double sharpness(const Strips& strips, double slope) {
  double sum = 0.0;
  std::vector<float> block;
  for (int from = 0; from + kBlock <= strips.layout.count; from += kBlock) {
    block.assign(size_of(strips.bins), 0.0F);
    int low = 0, high = strips.bins;
    for (int k = 0; k < kBlock; ++k) {
      // Whole bins: what lies between them would be smoother, and so would its noise.
      const int shift = static_cast<int>(std::lround(slope * (k - 0.5 * (kBlock - 1)) * strips.layout.height));
      const float* mean = &strips.mean[strips.at(from + k, 0)];
      const float* count = &strips.count[strips.at(from + k, 0)];
      low = std::max(low, -shift), high = std::min(high, strips.bins - shift);
      while (low < high && count[low + shift] == 0.0F) ++low;
      while (low < high && count[high - 1 + shift] == 0.0F) --high;
      for (int i = low; i < high; ++i) block[size_of(i)] += mean[i + shift];
    }
    for (const int step : kSharpSteps)
      for (int i = low + step; i < high; ++i) {
        const float rise = block[size_of(i)] - block[size_of(i - step)];
        sum += static_cast<double>(rise) * static_cast<double>(rise);
      }
  }
  return sum;
}

// The slips of sharp edges lie close together; those of ragged or few ones scatter, and then a narrow peak among them
// is an accident. What makes the picture sharpest is right.
double surest_slope_error(const Strips& strips, double noise, int every) {
  const std::vector<Edges> edges = edges_of_strips(strips, noise, every);
  const double apart = every * strips.layout.height;
  const SlopeError narrow = slope_error(edges, apart, kNarrow);
  if (narrow.sure) return narrow.slope;
  double best = narrow.slope, sharpest = kClearlySharper * sharpness(strips, best);
  const auto consider = [&](double slope) {
    const double sharp = sharpness(strips, slope);
    if (sharp > sharpest) best = slope, sharpest = sharp;
  };
  consider(0.0);
  for (const double window : kWide) consider(slope_error(edges, apart, window).slope);
  if (best == narrow.slope) return best;
  for (double step = kFirstStep; step > kLastStep; step *= 0.5)
    for (const double slope : {best - step, best + step}) consider(slope);
  return best;
}

// By how much the graduations in these strips are turned out of the strips' own direction, radians. Every so many
// strips one is looked at.
double turn_seen(const Strips& strips, double noise, int every = 1) {
  const double seen = std::max(noise, noise_between(strips));
  const double error = surest_slope_error(strips, seen * std::sqrt(strips.layout.row_step), every);
  // s grows by `error` per pixel of v: the lines lean by that much more than the shear took out.
  return std::atan(error * std::cos(strips.layout.angle));
}

// `spent` lends its memory, and is left with strips along one of the directions on the way.
double upright_angle(const ImageView& image, double angle, double noise, double height, AlongRange range,
                     Strips& spent) {
  const int row_step = std::clamp(static_cast<int>(height / kRowsInStrip), 1, 4);
  for (int pass = 0; pass < kMostPasses; ++pass) {
    spent = strips_over(image, angle, height, range, row_step, std::move(spent));
    const double turn = turn_seen(spent, noise);
    if (std::abs(angle - turn) > kMostAngle) break;
    angle -= turn;
    if (std::abs(turn) < (pass == 0 ? kSmallTurn : kLargeTurn)) break;
  }
  return angle;
}

// What a smaller copy of the picture shows of the direction.
double coarse_angle(const WorkingView& work, double angle, double noise, double height, AlongRange range) {
  constexpr int kReduction = WorkingView::kReduction;
  cv::Mat smaller = work.smaller;
  if (smaller.empty())
    smaller = area_means(as_mat(work.view), kReduction);
  else if (work.transposed)
    smaller = smaller.t();
  Strips strips;
  return upright_angle(as_view(smaller, work.view.white), angle, noise / kReduction, height,
                       {range.low / kReduction, range.high / kReduction}, strips);
}

// What covers the whole picture along one direction shall do so along another one too.
AlongRange turned_range(const ImageView& image, AlongRange range, double from, double to) {
  const AlongRange whole = along_range(image, from);
  return range.low <= whole.low && range.high >= whole.high ? along_range(image, to) : range;
}

}  // namespace

double noise_between(const Strips& strips) {
  constexpr std::size_t kMostSamples = 20'000, kRun = 16;  // beside each other: one line of the processor's cache
  const std::size_t bins = size_of(strips.bins), triples = size_of(std::max(0, strips.layout.count - 2));
  const float full = 0.9F * largest_count(strips.count.data(), strips.count.size());
  const std::size_t ends = triples * bins;
  const std::size_t stride = kRun * (std::max<std::size_t>(1, ends / kMostSamples) | 1U);  // odd: no moire with bins
  std::vector<float> differences;
  for (std::size_t from = 0; from < ends; from += stride)
    for (std::size_t a = from; a < std::min(ends, from + kRun); ++a) {
      const std::size_t b = a + bins, c = b + bins;
      if (std::min({strips.count[a], strips.count[b], strips.count[c]}) < full) continue;
      differences.push_back(std::abs(strips.mean[a] - 2.0F * strips.mean[b] + strips.mean[c]));
    }
  if (differences.size() < 100) return 0.0;
  return numeric::kMadToSigma * numeric::median_in_place(std::span<float>(differences)) / std::sqrt(6.0) *
         std::sqrt(static_cast<double>(full) / 0.9);
}

Strips upright_strips(const WorkingView& work, double angle, double noise, double height, AlongRange range) {
  const ImageView& image = work.view;
  Strips strips;
  if (static_cast<double>(image.width) * image.height >= kLarge) {
    const double coarse = coarse_angle(work, angle, noise, height, range);
    strips = strips_over(image, coarse, height, turned_range(image, range, angle, coarse));
    const double turn = turn_seen(strips, noise, kStepToCheck);
    if (std::abs(turn) < kSmallTurn) return strips;
    if (std::abs(turn) < kCoarseTurn) angle = coarse;
  }
  angle = upright_angle(image, angle, noise, height, range, strips);
  return strips_over(image, angle, height, range, 1, std::move(strips));
}

}  // namespace scale
