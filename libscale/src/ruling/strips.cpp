#include "ruling/strips.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <oneapi/tbb/parallel_for.h>

#include "image/row_sums.h"

namespace scale {

namespace {

// Below this angle, in radians, a row stays in one strip over any picture we read.
constexpr double kNoTilt = 1e-9;

constexpr std::size_t kMergedAtOnce = 512;  // bins

// Pixels: up to this height the sums of 8-bit samples fit 16 bits, a bin taking height / cos 45 degrees rows at most.
constexpr double kMostRowsOfShort = 180.0;

// The part [begin, end) of row y that belongs to v in [low, high).
struct Run {
  int begin = 0, end = 0;
};

Run run_of_row(double y, double low, double high, double sine, double cosine, int width) {
  const double along = cosine * y;
  if (std::abs(sine) < kNoTilt) return along >= low && along < high ? Run{0, width} : Run{0, 0};
  double from = (along - high) / sine, to = (along - low) / sine;  // v falls with x when sin > 0
  if (from > to) std::swap(from, to);
  const auto clamp = [width](double x) {
    return static_cast<int>(std::clamp(std::ceil(x), 0.0, static_cast<double>(width)));
  };
  return {clamp(from), clamp(to)};
}

// One row's part of a strip: bins [begin, end).
struct RowPart {
  int begin = 0, end = 0;
  float remainder = 0.0F;
};

// Counts, mean remainders and means of one strip and phase from the sums of its rows. Counts change only where a row
// begins or ends, so that all is done in stretches between these places.
template <class Sum>
void finish_phase(const std::vector<RowPart>& parts, const Sum* sums, Strips& strips, std::size_t out) {
  struct Change {
    int place;
    float count, remainder;
  };
  std::vector<Change> changes;
  for (const RowPart& part : parts) {
    changes.push_back({part.begin, 1.0F, part.remainder});
    changes.push_back({part.end, -1.0F, -part.remainder});
  }
  std::sort(changes.begin(), changes.end(), [](const Change& a, const Change& b) { return a.place < b.place; });
  float *mean = strips.mean.data() + out, *counts = strips.count.data() + out,
        *remainders = strips.remainder.data() + out;
  const auto leave_empty = [&](int from, int to) {
    for (float* values : {mean, counts, remainders}) std::fill(values + from, values + to, 0.0F);
  };
  float count = 0.0F, remainder = 0.0F;
  int from = 0;
  for (const Change& change : changes) {
    const int to = change.place;
    if (count < 0.5F) {
      leave_empty(from, to);
    } else {
      const float share = 1.0F / count, mean_remainder = remainder * share;
      for (int bin = from; bin < to; ++bin) {
        mean[bin] = static_cast<float>(sums[bin]) * share;
        counts[bin] = count;
        remainders[bin] = mean_remainder;
      }
    }
    count += change.count;
    remainder += change.remainder;
    from = to;
  }
  leave_empty(from, strips.bins);
}

// Up to four rows that fall on the same bins, added at once: the sums are loaded and stored once for all of them.
template <class Sample, class Sum>
class RowGroup {
 public:
  void add(const Sample* source, Run run, Sum* target) {
    if (count_ == kMost || (count_ > 0 && target != target_)) flush();
    target_ = target;
    source_[count_] = source;
    run_[count_++] = run;
  }
  void flush() {
    Run common = run_[0];
    for (std::size_t i = 1; i < count_; ++i)
      common = {std::max(common.begin, run_[i].begin), std::min(common.end, run_[i].end)};
    if (count_ > 1 && common.begin < common.end) {
      add_common(common);
      for (std::size_t i = 0; i < count_; ++i) {
        add_range(source_[i], run_[i].begin, common.begin);
        add_range(source_[i], common.end, run_[i].end);
      }
    } else {
      for (std::size_t i = 0; i < count_; ++i) add_range(source_[i], run_[i].begin, run_[i].end);
    }
    count_ = 0;
  }

 private:
  void add_common(Run common) {
    std::array<const Sample*, kMost> rows = source_;
    for (std::size_t i = 0; i < count_; ++i) rows[i] += common.begin;
    const std::size_t n = static_cast<std::size_t>(common.end - common.begin);
    Sum* sums = target_ + common.begin;
    if (count_ == kMost) return add_rows(rows, n, sums);
    add_rows(std::array{rows[0], rows[1]}, n, sums);
    if (count_ == 3) add_row(rows[2], n, sums);
  }
  void add_range(const Sample* source, int from, int to) {
    if (from < to) add_row(source + from, static_cast<std::size_t>(to - from), target_ + from);
  }
  static constexpr std::size_t kMost = 4;
  std::array<const Sample*, kMost> source_{};
  std::array<Run, kMost> run_{};
  Sum* target_ = nullptr;
  std::size_t count_ = 0;
};

template <class Sample, class Sum>
void sum_one_strip(const ImageView& image, int strip, Strips& strips) {
  const StripLayout& layout = strips.layout;
  const std::size_t bins = static_cast<std::size_t>(strips.bins);
  const std::size_t phases = static_cast<std::size_t>(layout.phases);
  std::vector<Sum> sums(bins * phases, Sum{});
  std::vector<std::vector<RowPart>> parts(phases);
  RowGroup<Sample, Sum> group;
  const double low = layout.v0 + strip * layout.height, high = low + layout.height;
  const double sine = std::sin(layout.angle), cosine = std::cos(layout.angle);
  const double corner = std::abs(sine) * image.width;
  const int first_row = std::max(0, static_cast<int>(std::floor((low - corner) / cosine)));
  const int last_row = std::min(image.height - 1, static_cast<int>(std::ceil((high + corner) / cosine)));
  for (int y = first_row; y <= last_row; y += layout.row_step) {
    const Run run = run_of_row(y, low, high, sine, cosine, image.width);
    if (run.end <= run.begin) continue;
    const double shift = strips.slope * y;
    const double rounded = std::floor(shift + 0.5);
    const double remainder = shift - rounded;  // in [-0.5, 0.5)
    const std::size_t phase =
        std::min(phases - 1, static_cast<std::size_t>((remainder + 0.5) * static_cast<double>(phases)));
    const int offset = static_cast<int>(rounded) - strips.first;
    group.add(image.row<Sample>(y), run, sums.data() + phase * bins + offset);
    parts[phase].push_back({run.begin + offset, run.end + offset, static_cast<float>(remainder)});
  }
  group.flush();
  for (std::size_t phase = 0; phase < phases; ++phase)
    finish_phase(parts[phase], sums.data() + phase * bins, strips, strips.at(strip, static_cast<int>(phase)));
}

}  // namespace

AlongRange along_range(const ImageView& image, double angle) {
  const double c = std::cos(angle), s = std::sin(angle), w = image.width - 1, h = image.height - 1;
  return {std::min({0.0, h * c, -w * s, h * c - w * s}), std::max({0.0, h * c, -w * s, h * c - w * s}) + 1e-6};
}

Strips sum_strips(const ImageView& image, const StripLayout& layout, Strips spent) {
  Strips strips = std::move(spent);
  strips.layout = layout;
  strips.slope = std::tan(layout.angle);
  const double reach = strips.slope * (image.height - 1);
  strips.first = static_cast<int>(std::floor(std::min(0.0, reach))) - 1;
  strips.bins = image.width + static_cast<int>(std::ceil(std::abs(reach))) + 3;
  const std::size_t size = static_cast<std::size_t>(layout.count) * static_cast<std::size_t>(layout.phases) *
                           static_cast<std::size_t>(strips.bins);
  for (auto* values : {&strips.mean, &strips.remainder, &strips.count}) {
    values->clear();  // so that growing does not copy
    values->resize(size);
  }
  oneapi::tbb::parallel_for(0, layout.count, [&](int strip) {
    switch (image.type) {
      case SampleType::u8:
        if (layout.height < kMostRowsOfShort)
          sum_one_strip<std::uint8_t, std::uint16_t>(image, strip, strips);
        else
          sum_one_strip<std::uint8_t, std::uint32_t>(image, strip, strips);
        break;
      case SampleType::u16:
        sum_one_strip<std::uint16_t, std::uint32_t>(image, strip, strips);
        break;
      case SampleType::f32:
        sum_one_strip<float, float>(image, strip, strips);
        break;
    }
  });
  return strips;
}

Strips one_strip(const ImageView& image, double angle, double v_low, double v_high) {
  StripLayout layout;
  layout.angle = angle;
  layout.v0 = v_low;
  layout.height = v_high - v_low;
  return sum_strips(image, layout);
}

Strips merged(const Strips& strips, int from, int to) {
  Strips one;
  one.layout = strips.layout;
  one.slope = strips.slope;
  one.first = strips.first;
  one.bins = strips.bins;
  one.layout.v0 = strips.layout.v0 + from * strips.layout.height;
  one.layout.height = (to - from) * strips.layout.height;
  one.layout.count = one.layout.phases = 1;
  const std::size_t bins = static_cast<std::size_t>(strips.bins);
  one.mean.assign(bins, 0.0F);
  one.remainder.assign(bins, 0.0F);
  one.count.assign(bins, 0.0F);
  const std::size_t end = strips.at(to, 0);
  oneapi::tbb::parallel_for(std::size_t{0}, (bins + kMergedAtOnce - 1) / kMergedAtOnce, [&](std::size_t block) {
    const std::size_t first = block * kMergedAtOnce, last = std::min(bins, first + kMergedAtOnce);
    for (std::size_t at = strips.at(from, 0); at < end; at += bins)
      for (std::size_t b = first; b < last; ++b) {
        const float n = strips.count[at + b];
        one.count[b] += n;
        one.mean[b] += n * strips.mean[at + b];
        one.remainder[b] += n * strips.remainder[at + b];
      }
    for (std::size_t b = first; b < last; ++b) {
      if (one.count[b] < 0.5F) continue;
      one.mean[b] /= one.count[b];
      one.remainder[b] /= one.count[b];
    }
  });
  return one;
}

Strips strips_over(const ImageView& image, double angle, double height, AlongRange range, int row_step, Strips spent) {
  StripLayout layout;
  layout.row_step = row_step;
  layout.angle = angle;
  layout.v0 = range.low;
  layout.count = std::max(1, static_cast<int>(std::ceil((range.high - range.low) / height)));
  layout.height = (range.high - range.low) / layout.count;
  return sum_strips(image, layout, std::move(spent));
}

float largest_count(const float* count, std::size_t n) {
  std::array<float, 8> most{};
  std::size_t i = 0;
  for (; i + most.size() <= n; i += most.size())
    for (std::size_t j = 0; j < most.size(); ++j) most[j] = std::max(most[j], count[i + j]);
  for (; i < n; ++i) most[0] = std::max(most[0], count[i]);
  return *std::max_element(most.begin(), most.end());
}

}  // namespace scale
