// The one comparison of numbers in the tests: |actual - expected| <= tolerance. NaN is never within anything.
//
//   CHECK(within(fit.slope, 1.757, 0.5e-3));   // a failure prints actual, expected, tolerance and error
//
// doctest::Approx is not used: its epsilon is relative to 1 + max(|a|, |b|), so Approx(0.012).epsilon(0.01)
// accepts 0.002.
#pragma once

#include <cmath>
#include <iomanip>
#include <limits>
#include <ostream>

namespace test_support {

struct Comparison {
  double actual, expected, tolerance;
  explicit operator bool() const {
    return actual == expected || std::abs(actual - expected) <= tolerance;  // the first holds for infinities
  }
};

inline std::ostream& operator<<(std::ostream& out, const Comparison& c) {
  return out << std::setprecision(std::numeric_limits<double>::max_digits10) << "actual " << c.actual << ", expected "
             << c.expected << ", tolerance " << c.tolerance << ", error " << c.actual - c.expected;
}

inline Comparison within(double actual, double expected, double tolerance) { return {actual, expected, tolerance}; }

}  // namespace test_support

using test_support::within;
