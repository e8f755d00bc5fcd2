#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <tuple>

#include <scale/measurement.h>

#include "numeric/distributions.h"

namespace scale {
namespace {

constexpr std::size_t kMostClasses = 400;

// 1, 2 or 5 times a power of ten, about twice the quartile range over the cube root of n (Freedman and Diaconis, 1981).
double chosen_width(const SizeDistribution& found, double quartile_range) {
  const double raw = 2.0 * quartile_range / std::cbrt(static_cast<double>(found.count));
  if (!(raw > 0.0)) return std::max(0.1 * found.mean, 1e-9);
  const double power = std::pow(10.0, std::floor(std::log10(raw)));
  // The one next to it in ratio.
  const double ratio = raw / power;
  return power * (ratio < std::sqrt(2.0) ? 1.0 : ratio < std::sqrt(10.0) ? 2.0 : ratio < std::sqrt(50.0) ? 5.0 : 10.0);
}

}  // namespace

// What is counted goes by the weight for the frame, or by the amount: length or area.
class SortedSizes {
 public:
  using Size = SizeSample::Size;
  using Share = double Size::*;
  static constexpr Share kNumber = &Size::weight, kAmount = &Size::amount;

  explicit SortedSizes(SizeSample& sample) : sample_(sample), sizes_(sample.sizes_) {
    std::sort(sizes_.begin(), sizes_.end(), [](const Size& a, const Size& b) {
      return std::tie(a.value, a.weight, a.amount) < std::tie(b.value, b.weight, b.amount);
    });
    for (const Size& size : sizes_) number_ += size.weight, amount_ += size.amount;
  }

  double total(Share share) const { return share == kNumber ? number_ : amount_; }

  double mean(Share share) const {
    double sum = 0.0;
    for (const Size& size : sizes_) sum += size.*share * size.value;
    return sum / total(share);
  }

  // Value below which this part of the shares lies; straight between the middles of the steps.
  double quantile(Share share, double part) const {
    double passed = 0.0, last_place = 0.0, last_value = sizes_.front().value;
    for (const Size& size : sizes_) {
      const double place = (passed + 0.5 * size.*share) / total(share);
      if (place >= part) {
        if (&size == &sizes_.front()) return size.value;
        return last_value + (size.value - last_value) * (part - last_place) / (place - last_place);
      }
      passed += size.*share;
      last_place = place, last_value = size.value;
    }
    return sizes_.back().value;
  }

  void fill_classes(SizeDistribution& found, double width) const {
    const double first = std::floor(found.least / width);
    const auto needed = static_cast<std::size_t>(std::floor(found.most / width) - first) + 1;
    const std::size_t count = std::min(needed, kMostClasses);
    found.widened = needed > kMostClasses;
    if (found.widened) width *= std::ceil(static_cast<double>(needed) / kMostClasses);
    const double low = std::floor(found.least / width) * width;
    for (std::size_t i = 0; i < count; ++i)
      found.classes.push_back({low + static_cast<double>(i) * width, low + static_cast<double>(i + 1) * width});
    for (const Size& size : sizes_) {
      const auto place = static_cast<std::size_t>(std::max(0.0, std::floor((size.value - low) / width)));
      SizeClass& into = found.classes[std::min(count - 1, place)];
      into.count += size.weight;
      into.share += size.weight / number_;
      if (amount_ > 0.0) into.amount_share += size.amount / amount_;
    }
  }

  void spread_over_mean(SizeDistribution& found, const DistributionOptions& options) const {
    double squares = 0.0, weight_squares = 0.0;
    for (const Size& size : sizes_) {
      squares += size.weight * std::pow(size.value - found.mean, 2);
      weight_squares += size.weight * size.weight;
    }
    const double n = number_ * number_ / weight_squares;  // as many equal weights
    found.sd = n > 1.0 ? std::sqrt(squares / number_ * n / (n - 1.0)) : 0.0;
    found.variation = found.mean > 0.0 ? found.sd / found.mean : 0.0;
    // The scatter of the bodies holds the noise of each; of one or two bodies it may not, by chance.
    found.sampling = std::max(found.sd / std::sqrt(n), std::sqrt(sample_.own_squares_) / number_);
    found.shared = sample_.shared_ / number_;
    found.rectangular = sample_.rectangular_ / number_;
    const double rest = found.shared * found.shared - found.rectangular * found.rectangular;
    found.expanded =
        expanded_with_limits(std::hypot(found.sampling, std::sqrt(std::max(0.0, rest))), found.rectangular);
    if (found.count < 2) return;
    const double t = numeric::student_t_quantile(options.confidence, n - 1.0);
    found.interval_half = t * found.sd / std::sqrt(n);
    if (options.wanted > 0.0 && found.mean > 0.0)
      found.needed = static_cast<int>(std::min(1e9, std::ceil(std::pow(t * found.variation / options.wanted, 2))));
  }

 private:
  const SizeSample& sample_;
  std::deque<Size>& sizes_;
  double number_ = 0.0, amount_ = 0.0;
};

void SizeSample::add(const SizedBody& body) {
  if (!(body.weight > 0.0)) return;
  sizes_.push_back({body.value, body.weight, body.weight * body.amount});
  own_squares_ += std::pow(body.weight * body.own, 2);
  shared_ += body.weight * body.shared;
  rectangular_ += body.weight * body.rectangular;
}

SizeDistribution SizeSample::distribution(const DistributionOptions& options) {
  if (!(options.confidence > 0.0 && options.confidence < 1.0))
    throw std::invalid_argument("distribution: the confidence must lie between 0 and 1");
  SizeDistribution found;
  if (sizes_.empty()) return found;
  const SortedSizes sorted(*this);
  constexpr auto number = SortedSizes::kNumber, amount = SortedSizes::kAmount;
  found.count = static_cast<int>(sizes_.size());
  found.least = sizes_.front().value, found.most = sizes_.back().value;
  found.mean = sorted.mean(number);
  found.d10 = sorted.quantile(number, 0.1);
  found.median = sorted.quantile(number, 0.5);
  found.d90 = sorted.quantile(number, 0.9);
  if (sorted.total(amount) > 0.0) {
    found.amount_mean = sorted.mean(amount);
    found.amount_d10 = sorted.quantile(amount, 0.1);
    found.amount_median = sorted.quantile(amount, 0.5);
    found.amount_d90 = sorted.quantile(amount, 0.9);
  }
  sorted.spread_over_mean(found, options);
  const double quartiles = sorted.quantile(number, 0.75) - sorted.quantile(number, 0.25);
  sorted.fill_classes(found, options.class_width > 0.0 ? options.class_width : chosen_width(found, quartiles));
  return found;
}

SizeDistribution distribution_of(std::span<const SizedBody> bodies, const DistributionOptions& options) {
  SizeSample sample;
  for (const SizedBody& body : bodies) sample.add(body);
  return sample.distribution(options);
}

}  // namespace scale
