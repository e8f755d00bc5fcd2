#include <scale/scale_bar.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>
#include <vector>

#include "numeric/robust.h"

namespace scale {
namespace {

// Of the view's range of grey values: JPEG of usual quality leaves less of a ripple on a flat bar, its ends step more.
constexpr double kRipple = 0.08;
// A bar that stands out less from what lies beside it is not told from the specimen with certainty.
constexpr double kStep = 0.25;
constexpr int kLeastLength = 20, kLeastHeight = 2;
// Of the view's width: strokes of letters and pieces of a bar in parts are shorter.
constexpr double kLeastShare = 0.2;
constexpr double kSlender = 3.0;
// Of a long side that must have other grey values beside it: ticks and letters may touch the rest.
constexpr double kBounded = 0.8;
// A second rectangle nearly as long makes it unclear which one is the bar.
constexpr double kAlone = 1.5;
// Pixels beside an end within which its step must be over, even a blurred or interpolated one.
constexpr int kBeside = 5;
// Of an end, pixels: what lies under a pixel that the bar covers in part is not known better where a fibre's edge runs
// there. Three times this held every one of 80 rendered bars.
constexpr double kLeastUncertainty = 0.2;

struct Samples {
  int width = 0, height = 0;
  std::vector<double> values;
  double range = 0.0;
  double at(int x, int y) const { return values[static_cast<std::size_t>(y) * width + x]; }
};

template <class Sample>
Samples samples_of(const ImageView& image) {
  Samples samples{image.width, image.height, {}, 0.0};
  samples.values.reserve(static_cast<std::size_t>(image.width) * image.height);
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x) samples.values.push_back(image.row<Sample>(y)[x]);
  const auto [least, most] = std::minmax_element(samples.values.begin(), samples.values.end());
  samples.range = *most - *least;
  return samples;
}

Samples samples_of(const ImageView& image) {
  if (image.type == SampleType::u8) return samples_of<std::uint8_t>(image);
  return image.type == SampleType::u16 ? samples_of<std::uint16_t>(image) : samples_of<float>(image);
}

// Rows of one grey value with the same ends.
struct Block {
  int first = 0, last = 0, top = 0, bottom = 0;
  double level = 0.0;
  int length() const { return last - first + 1; }
  int height() const { return bottom - top + 1; }
};

int least_length(const Samples& samples) {
  return std::max(kLeastLength, static_cast<int>(std::ceil(kLeastShare * samples.width)));
}

// What lies between two steps of a row, when it is long and flat.
std::vector<Block> flat_pieces(const Samples& samples, int y) {
  std::vector<Block> pieces;
  const double ripple = kRipple * samples.range;
  int first = 0;
  double least = samples.at(0, y), most = least, sum = 0.0;
  for (int x = 0; x < samples.width; ++x) {
    const double here = samples.at(x, y);
    least = std::min(least, here), most = std::max(most, here), sum += here;
    const bool ends = x + 1 == samples.width || std::abs(samples.at(x + 1, y) - here) > ripple;
    if (!ends) continue;
    const int length = x - first + 1;
    // Both to the darker and to the brighter side.
    if (length >= least_length(samples) && most - least <= 2.0 * ripple)
      pieces.push_back({first, x, y, y, sum / length});
    first = x + 1;
    if (first < samples.width) least = most = samples.at(first, y), sum = 0.0;
  }
  return pieces;
}

std::vector<Block> blocks_of(const Samples& samples) {
  constexpr int kSameEnd = 2;
  std::vector<Block> blocks;
  for (int y = 0; y < samples.height; ++y)
    for (const Block& piece : flat_pieces(samples, y)) {
      const auto continues = [&](const Block& block) {
        return block.bottom == y - 1 && std::abs(block.first - piece.first) <= kSameEnd &&
               std::abs(block.last - piece.last) <= kSameEnd &&
               std::abs(block.level - piece.level) <= kRipple * samples.range;
      };
      const auto above = std::find_if(blocks.begin(), blocks.end(), continues);
      if (above == blocks.end())
        blocks.push_back(piece);
      else
        above->bottom = y, above->level += (piece.level - above->level) / above->height();  // the mean of its rows
    }
  return blocks;
}

bool reaches_border(const Samples& samples, const Block& block) {
  return block.first < kBeside || block.last + kBeside >= samples.width || block.top < 2 ||
         block.bottom + 2 >= samples.height;
}

// Two rows off, past a row that the bar covers in part.
bool bounded(const Samples& samples, const Block& block) {
  for (const int y : {block.top - 2, block.bottom + 2}) {
    int other = 0;
    for (int x = block.first; x <= block.last; ++x)
      other += std::abs(samples.at(x, y) - block.level) > kStep * samples.range;
    if (other < kBounded * block.length()) return false;
  }
  return true;
}

struct End {
  double px = 0.0, uncertainty = 0.0;
};

// The rows that the bar covers whole.
std::pair<int, int> whole_rows(const Block& block) {
  const int trim = block.height() > kLeastHeight ? 1 : 0;
  return {block.top + trim, block.bottom - trim};
}

// How many pixels beyond its last one the step of this end is over. The specimen beside it makes single rows look
// softer, seldom sharper, so the middle one of the rows tells.
int step_length(const Samples& samples, const Block& block, int way) {
  std::vector<double> steps;
  const int corner = way < 0 ? block.first : block.last;
  const auto [top, bottom] = whole_rows(block);
  for (int y = top; y <= bottom; ++y) {
    const auto at = [&](int step) { return samples.at(corner + way * step, y); };
    int step = 1;
    while (step + 1 < kBeside && std::abs(at(step) - at(step + 1)) > 0.5 * kRipple * samples.range) ++step;
    steps.push_back(step);
  }
  return static_cast<int>(numeric::median(steps));
}

// `way` is -1 at the left end and +1 at the right one.
std::optional<End> end_of(const Samples& samples, const Block& block, int way) {
  const int beyond = step_length(samples, block, way);  // there lies the ground
  const int corner = way < 0 ? block.first : block.last;
  struct Row {
    double end, weight, unknown;  // unknown: pixels, by the ground under the step
  };
  std::vector<Row> rows;
  const auto [top, bottom] = whole_rows(block);
  for (int y = top; y <= bottom; ++y) {
    const double ground = samples.at(corner + way * beyond, y), contrast = block.level - ground;
    if (std::abs(contrast) < kStep * samples.range) continue;
    double covered = 0.0;
    for (int step = -1; step < beyond; ++step) covered += (samples.at(corner + way * step, y) - ground) / contrast;
    const double slope = samples.at(corner + way * std::min(beyond + 1, kBeside), y) - ground;
    rows.push_back({corner + way * (covered - 1.5), contrast * contrast, slope / contrast});
  }
  if (2 * static_cast<int>(rows.size()) < bottom - top + 1 || rows.empty()) return std::nullopt;
  // The ground under the step is off by some grey values in every row alike, so that rows of high contrast tell more;
  // by how much, its change from one pixel to the next tells.
  double sum = 0.0, weights = 0.0, squares = 0.0;
  for (const Row& row : rows) sum += row.weight * row.end, weights += row.weight;
  for (const Row& row : rows) squares += row.weight * (std::pow(row.end - sum / weights, 2) + std::pow(row.unknown, 2));
  return End{sum / weights, std::max(kLeastUncertainty, std::sqrt(squares / weights))};
}

}  // namespace

ScaleBarReading read_scale_bar(const ImageView& image) {
  if (image.data == nullptr || image.width < 1 || image.height < 1)
    throw std::invalid_argument("read_scale_bar: there is no image");
  const Samples samples = samples_of(image);
  std::vector<Block> bars;
  bool cut = false;
  for (const Block& block : blocks_of(samples)) {
    if (block.height() < kLeastHeight || block.length() < kSlender * block.height()) continue;
    const bool outside = reaches_border(samples, block);
    cut = cut || outside;
    if (!outside && bounded(samples, block)) bars.push_back(block);
  }
  std::sort(bars.begin(), bars.end(), [](const Block& a, const Block& b) { return a.length() > b.length(); });
  if (bars.empty())
    return {std::nullopt, cut ? "what is flat there reaches the border of the region; a bar must lie inside it"
                              : "no rectangle of one grey value lies there"};
  if (bars.size() > 1 && bars[0].length() < kAlone * bars[1].length())
    return {std::nullopt, "more than one rectangle could be the bar"};
  const std::optional<End> left = end_of(samples, bars[0], -1), right = end_of(samples, bars[0], 1);
  if (!left || !right) return {std::nullopt, "an end of the bar does not stand out from what lies beside it"};
  return {ScaleBar{left->px, right->px, right->px - left->px, std::hypot(left->uncertainty, right->uncertainty)}, ""};
}

}  // namespace scale
