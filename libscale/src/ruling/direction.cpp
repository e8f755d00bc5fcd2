#include "ruling/direction.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <opencv2/core.hpp>
#include <opencv2/core/hal/hal.hpp>

#include <oneapi/tbb/parallel_for.h>
#include <scale/units.h>

#include "image/area_means.h"
#include "image/frame.h"
#include "ruling/working_view.h"

namespace scale {

namespace {

constexpr int kBins = 180;                // one degree each
constexpr int kTilesAlong = 8;            // tiles along the longer side
constexpr int kLeastTile = 64;            // pixels
constexpr double kNoiseFactor = 4.0;      // gradients below this many noise levels are noise
constexpr double kLeastGradient = 0.003;  // of the picture's contrast per pixel; fainter slopes are shading
constexpr int kLeastReduced = 24;         // pixels, of the shorter side of a copy
constexpr int kMostSampledColumns = 1800;
constexpr int kMostSampledRows = 300;   // rows of one level that are looked at, about
constexpr double kPeakHalfWidth = 3.0;  // degrees
constexpr std::size_t kMostSeen = 20;   // directions that are kept
constexpr std::size_t kAcross = 2;      // of which so many are looked across,
constexpr std::size_t kBefore = 6;      // after so many

using Histogram = std::array<double, kBins>;

// One histogram for every tile, of gradients by their length, and of the same by its root: the first shows strong lines
// among faint shading and coding, the second many faint lines beside the border of the field or dirt.
struct Tiles {
  int size = 0, across = 0, down = 0;
  std::vector<Histogram> by_length, by_root;
};

Tiles make_tiles(const ImageView& image) {
  Tiles tiles;
  tiles.size = std::max(kLeastTile, (std::max(image.width, image.height) + kTilesAlong - 1) / kTilesAlong);
  tiles.across = (image.width + tiles.size - 1) / tiles.size;
  tiles.down = (image.height + tiles.size - 1) / tiles.size;
  tiles.by_length.assign(static_cast<std::size_t>(tiles.across) * static_cast<std::size_t>(tiles.down), Histogram{});
  tiles.by_root = tiles.by_length;
  return tiles;
}

// Gradients of one row that are no noise, gathered before they are looked at.
struct Gradients {
  std::vector<float> x, y, squared, angle;
  std::vector<int> column;
  std::size_t count = 0;

  explicit Gradients(int most) {
    for (auto* values : {&x, &y, &squared, &angle}) values->resize(static_cast<std::size_t>(most));
    column.resize(static_cast<std::size_t>(most));
  }
};

// Scharr's weights keep the direction of short periods honest.
template <class Sample>
void gather_row(const cv::Mat& level, int row, int step, float least, Gradients& gradients) {
  const Sample *above = level.ptr<Sample>(row - 1), *here = level.ptr<Sample>(row), *below = level.ptr<Sample>(row + 1);
  std::size_t n = 0;
  for (int x = 1; x + 1 < level.cols; x += step) {
    const auto at = [x](const Sample* samples, int dx) { return static_cast<float>(samples[x + dx]); };
    const float a = at(below, 1) - at(above, -1), b = at(below, -1) - at(above, 1);
    const float gx = 3.0F * (a - b) + 10.0F * (at(here, 1) - at(here, -1));
    const float gy = 3.0F * (a + b) + 10.0F * (at(below, 0) - at(above, 0));
    const float squared = gx * gx + gy * gy;
    gradients.x[n] = gx, gradients.y[n] = gy, gradients.squared[n] = squared, gradients.column[n] = x;
    n += squared >= least ? 1U : 0U;
  }
  gradients.count = n;
  cv::hal::fastAtan32f(gradients.y.data(), gradients.x.data(), gradients.angle.data(), static_cast<int>(n), true);
}

// Adds the gradients of one level (a copy `reduction` times smaller) to the tiles. Rows of one row of tiles belong to
// one thread.
template <class Sample>
void add_level(const cv::Mat& level, int reduction, double noise, double contrast, Tiles& tiles) {
  const int stride = std::max(1, level.rows / kMostSampledRows);
  const int step = std::max(1, level.cols / kMostSampledColumns);
  const double gain = std::sqrt(4.0 * 9.0 + 2.0 * 100.0);  // norm of one Scharr kernel
  const double threshold =
      std::max(kNoiseFactor * gain * noise / reduction, kLeastGradient * reduction * 32.0 * contrast);
  const float least = static_cast<float>(threshold * threshold);
  const double pixels = 1.0 * stride * step * reduction * reduction;
  oneapi::tbb::parallel_for(0, tiles.down, [&](int tile_row) {
    const int from = std::max(1, tile_row * tiles.size / reduction);
    const int to = std::min(level.rows - 1, (tile_row + 1) * tiles.size / reduction);
    Gradients gradients(level.cols);
    for (int y = from; y < to; y += stride) {
      gather_row<Sample>(level, y, step, least, gradients);
      for (std::size_t i = 0; i < gradients.count; ++i) {
        const float degrees = gradients.angle[i];  // [0, 360)
        const auto bin = static_cast<std::size_t>(std::min(2 * kBins - 1, static_cast<int>(degrees)) % kBins);
        const auto tile = static_cast<std::size_t>(
            tile_row * tiles.across + std::min(tiles.across - 1, gradients.column[i] * reduction / tiles.size));
        const float length = std::sqrt(gradients.squared[i]);
        tiles.by_length[tile][bin] += static_cast<double>(length) * pixels;
        tiles.by_root[tile][bin] += static_cast<double>(std::sqrt(length)) * pixels;
      }
    }
  });
}

void add_level(const cv::Mat& level, int reduction, double noise, double contrast, Tiles& tiles) {
  switch (level.type()) {
    case CV_8UC1:
      add_level<std::uint8_t>(level, reduction, noise, contrast, tiles);
      break;
    case CV_16UC1:
      add_level<std::uint16_t>(level, reduction, noise, contrast, tiles);
      break;
    default:
      add_level<float>(level, reduction, noise, contrast, tiles);
      break;
  }
}

struct Peak {
  double degrees = 0.0, mass = 0.0, share = 0.0;
};

// Local maxima of the histogram summed over +-kPeakHalfWidth, above the flat part, strongest first.
std::vector<Peak> peaks_of(const Histogram& histogram, std::size_t most) {
  double total = 0.0;
  for (const double h : histogram) total += h;
  if (total <= 0.0) return {};
  const int reach = static_cast<int>(kPeakHalfWidth);
  const auto around = [&](int bin) { return histogram[static_cast<std::size_t>((bin + kBins) % kBins)]; };
  std::array<double, kBins> sum{};
  for (int b = 0; b < kBins; ++b)
    for (int k = -reach; k <= reach; ++k) sum[static_cast<std::size_t>(b)] += around(b + k);
  std::vector<Peak> peaks;
  for (int b = 0; b < kBins; ++b) {
    const double here = sum[static_cast<std::size_t>(b)];
    bool highest = true;
    for (int k = -reach; k <= reach && highest; ++k)
      highest = sum[static_cast<std::size_t>((b + k + kBins) % kBins)] <= here;
    const double flat = total * (2 * reach + 1) / kBins;
    if (!highest || here <= 1.3 * flat) continue;
    double moment = 0.0;
    for (int k = -reach; k <= reach; ++k) moment += k * around(b + k);
    if (!peaks.empty() && std::abs(b + 0.5 - peaks.back().degrees) < kPeakHalfWidth) continue;  // a plateau
    peaks.push_back({b + 0.5 + moment / here, here - flat, here / total});
  }
  std::stable_sort(peaks.begin(), peaks.end(), [](const Peak& a, const Peak& b) { return a.mass > b.mass; });
  if (peaks.size() > most) peaks.resize(most);
  return peaks;
}

double apart(double a, double b) {
  const double d = std::abs(a - b);
  return std::min(d, 180.0 - d);
}

// Grows a candidate over neighbouring tiles that show the same direction clearly.
std::vector<DirectionCandidate> tile_candidates(const Tiles& tiles, const std::vector<Histogram>& histograms,
                                                const ImageView& image) {
  struct TilePeak {
    int tile;
    Peak peak;
    bool taken;
  };
  std::vector<TilePeak> found;
  for (int t = 0; t < tiles.across * tiles.down; ++t)
    for (const Peak& peak : peaks_of(histograms[static_cast<std::size_t>(t)], 2))
      if (peak.share > 0.2) found.push_back({t, peak, false});
  std::stable_sort(found.begin(), found.end(), [](const TilePeak& a, const TilePeak& b) {
    return a.peak.mass * a.peak.share > b.peak.mass * b.peak.share;
  });
  std::vector<DirectionCandidate> candidates;
  for (TilePeak& seed : found) {
    if (seed.taken) continue;
    seed.taken = true;
    std::vector<int> members{seed.tile};
    double weight = 0.0, turn = 0.0, mass = 0.0;
    const auto add = [&](const Peak& peak) {
      weight += peak.mass * peak.share;
      double difference = peak.degrees - seed.peak.degrees;
      difference -= 180.0 * std::round(difference / 180.0);
      turn += peak.mass * difference;
      mass += peak.mass;
    };
    add(seed.peak);
    for (bool grown = true; grown;) {
      grown = false;
      for (TilePeak& other : found) {
        if (other.taken || apart(other.peak.degrees, seed.peak.degrees) > 4.0) continue;
        const bool touches = std::any_of(members.begin(), members.end(), [&](int m) {
          return std::abs(m % tiles.across - other.tile % tiles.across) <= 1 &&
                 std::abs(m / tiles.across - other.tile / tiles.across) <= 1;
        });
        if (!touches) continue;
        other.taken = grown = true;
        members.push_back(other.tile);
        add(other.peak);
      }
    }
    cv::Rect region;
    for (const int m : members) {
      const cv::Rect tile(m % tiles.across * tiles.size, m / tiles.across * tiles.size, tiles.size, tiles.size);
      region = region.area() == 0 ? tile : region | tile;
    }
    const int margin = tiles.size / 2;
    region -= cv::Point(margin, margin);
    region += cv::Size(2 * margin, 2 * margin);
    region &= cv::Rect(0, 0, image.width, image.height);
    candidates.push_back({folded(radians_from_degrees(seed.peak.degrees + turn / mass).value), region, weight});
  }
  return candidates;
}

bool same_direction(const DirectionCandidate& a, const DirectionCandidate& b, double degrees_apart) {
  return apart(degrees({a.angle}), degrees({b.angle})) < degrees_apart;
}

// Of the whole picture and of parts of it, most promising first.
std::vector<DirectionCandidate> candidates_of(const Tiles& tiles, const std::vector<Histogram>& histograms,
                                              const ImageView& image) {
  std::vector<DirectionCandidate> candidates;
  Histogram whole{};
  for (const Histogram& tile : histograms)
    for (std::size_t b = 0; b < kBins; ++b) whole[b] += tile[b];
  const cv::Rect everything(0, 0, image.width, image.height);
  for (const Peak& peak : peaks_of(whole, 4))
    candidates.push_back({folded(radians_from_degrees(peak.degrees).value), everything, 2.0 * peak.mass * peak.share});
  const auto global = static_cast<std::ptrdiff_t>(candidates.size());
  for (DirectionCandidate& local : tile_candidates(tiles, histograms, image)) {
    const bool known = std::any_of(candidates.begin(), candidates.begin() + global, [&](const auto& c) {
      return same_direction(local, c, 2.0) && 2 * local.region.area() > everything.area();
    });
    if (!known) candidates.push_back(local);
  }
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const auto& a, const auto& b) { return a.weight > b.weight; });
  return candidates;
}

void add_unknown(const DirectionCandidate& candidate, std::vector<DirectionCandidate>& candidates) {
  const bool known = std::any_of(candidates.begin(), candidates.end(), [&](const DirectionCandidate& other) {
    return same_direction(candidate, other, 1.0) && (other.region & candidate.region) == candidate.region &&
           2 * candidate.region.area() > other.region.area();
  });
  if (!known && candidates.size() < kMostSeen) candidates.push_back(candidate);
}

// In turns from both lists, what the other one does not show already.
std::vector<DirectionCandidate> in_turns(const std::vector<DirectionCandidate>& first,
                                         const std::vector<DirectionCandidate>& second) {
  std::vector<DirectionCandidate> both;
  for (std::size_t i = 0; i < std::max(first.size(), second.size()); ++i) {
    if (i < first.size()) add_unknown(first[i], both);
    if (i < second.size()) add_unknown(second[i], both);
  }
  return both;
}

// A base line may be all that is seen of a scale with short graduations: they run across it.
void add_across(std::vector<DirectionCandidate>& candidates) {
  const std::size_t seen = std::min(candidates.size(), kAcross);
  auto place = static_cast<std::ptrdiff_t>(std::min(candidates.size(), kBefore));
  for (std::size_t c = 0; c < seen; ++c) {
    DirectionCandidate across = candidates[c];
    across.angle = folded(across.angle + kPi / 2.0);
    across.seen = false;
    const bool known = std::any_of(candidates.begin(), candidates.end(), [&](const DirectionCandidate& other) {
      return same_direction(other, across, 2.0) && (other.region & across.region) == across.region;
    });
    if (!known) candidates.insert(candidates.begin() + place++, across);
  }
}

}  // namespace

std::vector<DirectionCandidate> candidate_directions(Pictures& pictures, double noise, double contrast) {
  const ImageView& image = pictures.image();
  Tiles tiles = make_tiles(image);
  const cv::Mat full = as_mat(image);
  add_level(full, 1, noise, contrast, tiles);
  const std::vector<Histogram> finest = tiles.by_length;
  constexpr int kStep = WorkingView::kReduction;
  cv::Mat level;
  for (int reduction = kStep;
       reduction <= kStep * kStep && std::min(image.width, image.height) / reduction >= kLeastReduced;
       reduction *= kStep) {
    level = level.empty() ? pictures.smaller() : area_means(level, kStep);
    add_level(level, reduction, noise, contrast, tiles);
  }
  std::vector<DirectionCandidate> candidates =
      in_turns(candidates_of(tiles, tiles.by_length, image), candidates_of(tiles, tiles.by_root, image));
  add_across(candidates);
  // Last what the picture itself shows: in its smaller copies a fine scale is less than the lettering beside it.
  for (const DirectionCandidate& local : tile_candidates(tiles, finest, image)) add_unknown(local, candidates);
  return candidates;
}

}  // namespace scale
