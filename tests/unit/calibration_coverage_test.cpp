#include <doctest/doctest.h>
#include <scale/calibration.h>

#include <cmath>
#include <limits>
#include <stdexcept>

TEST_CASE("the coverage factor is exactly 2 for infinitely many degrees of freedom and grows as they shrink") {
  const double infinity = std::numeric_limits<double>::infinity();
  CHECK(scale::coverage_factor(infinity) == 2.0);
  double smaller = 2.0;
  for (double dof : {1e6, 100.0, 10.5, 3.0, 1.0, 0.5}) {
    CHECK(scale::coverage_factor(dof) > smaller);
    smaller = scale::coverage_factor(dof);
  }
  CHECK(scale::coverage_factor(0.0) == infinity);
}

TEST_CASE("degrees of freedom below zero are the caller's mistake") {
  CHECK_THROWS_AS(scale::coverage_factor(-1.0), std::invalid_argument);
  CHECK_THROWS_AS(scale::coverage_factor(std::nan("")), std::invalid_argument);
}
