// Student's t factors of JCGM 100:2008 (GUM), Table G.2. Read in transcription: the row of 16 degrees of freedom
// and the 95.45 % column at infinity. The other rows are from memory; an independent computation gives the same.
#include <doctest/doctest.h>
#include <scale/calibration.h>

#include <limits>

#include "numeric/distributions.h"
#include "support/within.h"

namespace {

constexpr double kTwoDecimals = 0.5e-2;  // the table prints two

struct Row {
  double degrees_of_freedom, t95, t9545, t99;
};

constexpr Row kTableG2[] = {{1, 12.71, 13.97, 63.66}, {2, 4.30, 4.53, 9.92},  {3, 3.18, 3.31, 5.84},
                            {4, 2.78, 2.87, 4.60},    {5, 2.57, 2.65, 4.03},  {8, 2.31, 2.37, 3.36},
                            {10, 2.23, 2.28, 3.17},   {16, 2.12, 2.17, 2.92}, {20, 2.09, 2.13, 2.85},
                            {50, 2.01, 2.05, 2.68}};

}  // namespace

TEST_CASE("GUM Table G.2: t factors for 95.45 % are the coverage factors, for 95 % and 99 % the quantiles") {
  for (const Row& row : kTableG2) {
    CAPTURE(row.degrees_of_freedom);
    CHECK(within(scale::coverage_factor(row.degrees_of_freedom), row.t9545, kTwoDecimals));
    CHECK(within(scale::numeric::student_t_quantile(0.95, row.degrees_of_freedom), row.t95, kTwoDecimals));
    CHECK(within(scale::numeric::student_t_quantile(0.99, row.degrees_of_freedom), row.t99, kTwoDecimals));
  }
  CHECK(within(scale::coverage_factor(std::numeric_limits<double>::infinity()), 2.0, 0.0));
}

TEST_CASE("GUM G.4.1: 19.0 effective degrees of freedom make t95 2.09") {
  CHECK(within(scale::numeric::student_t_quantile(0.95, 19.0), 2.09, kTwoDecimals));
}

TEST_CASE("GUM H.1.6: 16 effective degrees of freedom make t99 2.92") {
  CHECK(within(scale::numeric::student_t_quantile(0.99, 16.0), 2.92, kTwoDecimals));
}
