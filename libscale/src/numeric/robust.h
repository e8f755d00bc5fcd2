// Median and median absolute deviation: location and spread that half of the values cannot spoil.
//
// The `_in_place` forms reorder (mad_sigma also overwrites) what they are given and allocate nothing.
// No values, or a NaN among them, give NaN. An even count gives the mean of the two middle values.
#pragma once

#include <span>
#include <vector>

namespace scale::numeric {

// 1 / quantile of the normal distribution at 3/4: makes the median absolute deviation of normal values estimate
// their standard deviation.
inline constexpr double kMadToSigma = 1.482602218505602;

double median_in_place(std::span<float> values);
double median_in_place(std::span<double> values);
double median(std::span<const float> values);
double median(std::span<const double> values);

// The upper one of the two middle values of an even count; 0 of none. For scales and thresholds that must be a
// value that occurs.
double upper_median(std::vector<double> values);

// The value that a share of the values (0 to 1) does not exceed, one that occurs. At least one value.
double quantile(std::vector<double> values, double share);

// kMadToSigma * median(|value - median|).
double mad_sigma_in_place(std::span<float> values);
double mad_sigma_in_place(std::span<double> values);
double mad_sigma(std::span<const float> values);
double mad_sigma(std::span<const double> values);

}  // namespace scale::numeric
