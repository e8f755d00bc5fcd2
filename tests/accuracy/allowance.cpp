#include "allowance.h"

#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/normal.hpp>
#include <cmath>

namespace accuracy {

double most_allowed(std::size_t n, double rate, bool share) {
  const double count = static_cast<double>(n);
  if (!share || n == 0 || rate <= 0.0) return rate * count;
  return std::ceil(boost::math::quantile(boost::math::binomial(count, rate), kShareConfidence));
}

double least_allowed(std::size_t n, double rate, bool share) {
  return static_cast<double>(n) - most_allowed(n, 1.0 - rate, share);
}

double deviations_allowed(bool share) {
  return share ? boost::math::quantile(boost::math::normal(), kShareConfidence) : 0.0;
}

}  // namespace accuracy
