// What a count out of n may be when the true rate keeps its limit.
//
// A full run is held to the limit itself. A small fixed share of it is held to the limit widened by chance: the count
// a rate just at its limit stays within 99 times in a hundred (one-sided quantile of the binomial distribution).
#pragma once

#include <cstddef>

namespace accuracy {

inline constexpr double kShareConfidence = 0.99;

/// Largest allowed count of events whose rate may be at most `rate`.
double most_allowed(std::size_t n, double rate, bool share);

/// Smallest allowed count of events whose rate must be at least `rate`.
double least_allowed(std::size_t n, double rate, bool share);

/// Standard normal quantile of kShareConfidence for a share, 0 otherwise.
double deviations_allowed(bool share);

}  // namespace accuracy
