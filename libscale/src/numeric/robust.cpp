#include "numeric/robust.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace scale::numeric {
namespace {

// A NaN breaks the ordering that selection relies on, so it is looked for first.
template <class Number>
double select_median(std::span<Number> values) {
  const auto is_nan = [](Number value) { return std::isnan(value); };
  if (values.empty() || std::any_of(values.begin(), values.end(), is_nan))
    return std::numeric_limits<double>::quiet_NaN();
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  const auto upper = static_cast<double>(*middle);
  if (values.size() % 2 == 1) return upper;
  const auto lower = static_cast<double>(*std::max_element(values.begin(), middle));
  return lower + (upper - lower) / 2.0;
}

template <class Number>
double select_mad_sigma(std::span<Number> values) {
  const double centre = select_median(values);
  for (Number& value : values) value = static_cast<Number>(std::abs(static_cast<double>(value) - centre));
  return kMadToSigma * select_median(values);
}

template <class Number>
std::vector<Number> copy_of(std::span<const Number> values) {
  return {values.begin(), values.end()};
}

}  // namespace

double median_in_place(std::span<float> values) { return select_median(values); }
double median_in_place(std::span<double> values) { return select_median(values); }
double quantile(std::vector<double> values, double share) {
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

double mad_sigma_in_place(std::span<float> values) { return select_mad_sigma(values); }
double mad_sigma_in_place(std::span<double> values) { return select_mad_sigma(values); }

double median(std::span<const float> values) {
  auto copy = copy_of(values);
  return select_median(std::span(copy));
}

double median(std::span<const double> values) {
  auto copy = copy_of(values);
  return select_median(std::span(copy));
}

double mad_sigma(std::span<const float> values) {
  auto copy = copy_of(values);
  return select_mad_sigma(std::span(copy));
}

double mad_sigma(std::span<const double> values) {
  auto copy = copy_of(values);
  return select_mad_sigma(std::span(copy));
}

double upper_median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace scale::numeric
