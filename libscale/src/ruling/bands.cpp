#include "ruling/bands.h"

#include <algorithm>
#include <cmath>

#include <oneapi/tbb/parallel_for.h>

namespace scale {

namespace {

constexpr std::size_t kBinsAtOnce = 512;
constexpr float kLeastCount = 0.25F;  // of the fullest bin: thinner bins are left out of a band

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

struct Sums {
  std::vector<float> count, value, remainder;
  explicit Sums(int bins) : count(size_of(bins), 0.0F), value(count), remainder(count) {}
};

// Bins from `from` on, as many as `sums` has.
void add_strip(const Strips& strips, int strip, std::size_t from, float grey, Sums& sums) {
  const std::size_t bins = sums.count.size();
  for (int phase = 0; phase < strips.layout.phases; ++phase) {
    const std::size_t at = strips.at(strip, phase) + from;
    const float* n = strips.count.data() + at;
    const float* mean = strips.mean.data() + at;
    const float* remainder = strips.remainder.data() + at;
    for (std::size_t b = 0; b < bins; ++b) {
      sums.count[b] += n[b];
      sums.value[b] += n[b] * (mean[b] - grey);
      sums.remainder[b] += n[b] * remainder[b];
    }
  }
}

// Sets [begin, end) to the longest stretch of bins that are full enough.
void choose_stretch(const float* count, int bins, Profile& profile) {
  const float least = std::max(0.5F, kLeastCount * largest_count(count, size_of(bins)));
  int begin = 0;
  for (int b = 0; b <= bins; ++b) {
    if (b < bins && count[b] >= least) continue;
    if (b - begin > profile.end - profile.begin) profile.begin = begin, profile.end = b;
    begin = b + 1;
  }
}

Profile profile_of(Sums sums, int first, float grey) {
  Profile profile;
  profile.first = first;
  choose_stretch(sums.count.data(), static_cast<int>(sums.count.size()), profile);
  for (int b = profile.begin; b < profile.end; ++b) {
    const float share = 1.0F / sums.count[size_of(b)];
    sums.value[size_of(b)] = grey + sums.value[size_of(b)] * share;
    sums.remainder[size_of(b)] *= share;
  }
  profile.value = std::move(sums.value);
  profile.remainder = std::move(sums.remainder);
  return profile;
}

// A grey value near the middle of all: sums about it keep the precision of a float.
float middle_grey(const Strips& strips) {
  double sum = 0.0, count = 0.0;
  for (std::size_t i = 0; i < strips.mean.size(); i += 61) {
    if (strips.count[i] < 0.5F) continue;
    sum += static_cast<double>(strips.mean[i]);
    count += 1.0;
  }
  return count > 0.0 ? static_cast<float>(sum / count) : 0.0F;
}

}  // namespace

std::vector<std::vector<Band>> band_levels(int groups) {
  std::vector<std::vector<Band>> levels;
  for (int size = groups; size >= 1; size = size > 1 ? (size + 1) / 2 : 0) {
    std::vector<Band>& level = levels.emplace_back();
    const int step = std::max(1, size / 2);
    for (int g = 0; g + size <= groups; g += step) level.push_back({g, g + size});
  }
  return levels;
}

BandSums::BandSums(const Strips& strips, int most_groups)
    : angle_(strips.layout.angle), first_(strips.first), bins_(strips.bins) {
  const int groups = std::min(strips.layout.count, most_groups);
  grey_ = middle_grey(strips);
  const std::size_t bins = size_of(bins_);
  for (auto* sums : {&count_, &value_, &remainder_}) sums->assign(bins * size_of(groups + 1), 0.0F);
  v_ = {strips.layout.v0};
  std::vector<int> end{0};  // of each group's strips, after the first
  for (int g = 0; g < groups; ++g) {
    end.push_back(static_cast<int>(static_cast<long>(g + 1) * strips.layout.count / groups));
    v_.push_back(strips.layout.v0 + end.back() * strips.layout.height);
  }
  oneapi::tbb::parallel_for(std::size_t{0}, (bins + kBinsAtOnce - 1) / kBinsAtOnce, [&](std::size_t block) {
    const std::size_t from = block * kBinsAtOnce;
    Sums running(static_cast<int>(std::min(bins, from + kBinsAtOnce) - from));
    for (std::size_t g = 1; g < end.size(); ++g) {
      for (int strip = end[g - 1]; strip < end[g]; ++strip) add_strip(strips, strip, from, grey_, running);
      const auto to = static_cast<std::ptrdiff_t>(bins * g + from);
      std::copy(running.count.begin(), running.count.end(), count_.begin() + to);
      std::copy(running.value.begin(), running.value.end(), value_.begin() + to);
      std::copy(running.remainder.begin(), running.remainder.end(), remainder_.begin() + to);
    }
  });
  groups_.resize(size_of(groups));
  oneapi::tbb::parallel_for(0, groups, [&](int g) { groups_[size_of(g)] = profile({g, g + 1}); });
}

Profile BandSums::profile(const Band& band) const {
  Sums sums(bins_);
  const auto between = [&](const std::vector<float>& running, std::vector<float>& into) {
    const float* low = row(running, band.from);
    const float* high = row(running, band.to);
    for (std::size_t b = 0; b < into.size(); ++b) into[b] = high[b] - low[b];
  };
  between(count_, sums.count);
  between(value_, sums.value);
  between(remainder_, sums.remainder);
  return profile_of(std::move(sums), first_, grey_);
}

Profile strip_profile(const Strips& strips, int strip) {
  Profile profile;
  profile.first = strips.first;
  const auto from = static_cast<std::ptrdiff_t>(strips.at(strip, 0)), to = from + strips.bins;
  choose_stretch(strips.count.data() + from, strips.bins, profile);
  profile.value.assign(strips.mean.begin() + from, strips.mean.begin() + to);
  profile.remainder.assign(strips.remainder.begin() + from, strips.remainder.begin() + to);
  return profile;
}

}  // namespace scale
