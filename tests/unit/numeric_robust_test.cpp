#include "numeric/robust.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "numeric/distributions.h"
#include "support/within.h"

using namespace scale::numeric;

TEST_CASE("the median is the middle value, or the mean of the two in the middle") {
  CHECK(median(std::vector<double>{5, 1, 3}) == 3.0);
  CHECK(median(std::vector<double>{4, 1, 3, 10}) == 3.5);
  CHECK(median(std::vector<float>{7}) == 7.0);
  CHECK(median(std::vector<float>{2.5f, 1.5f}) == 2.0);
}

TEST_CASE("the mean of the two in the middle does not overflow") {
  const double huge = std::numeric_limits<double>::max();
  CHECK(median(std::vector<double>{huge, huge}) == huge);
}

TEST_CASE("the sigma of the median absolute deviation has the normal distribution's factor") {
  // 1 / quantile(3/4): Phi(z) = 3/4 holds where half of the values lie within z.
  CHECK(within(kMadToSigma * student_t_quantile(0.5, std::numeric_limits<double>::infinity()), 1.0, 1e-14));
  CHECK(within(mad_sigma(std::vector<double>{1, 2, 3, 4, 100}), kMadToSigma, 1e-14));
  CHECK(within(mad_sigma(std::vector<float>{-1, 0, 1}), kMadToSigma, 1e-6));
}

TEST_CASE("almost half of the values may be anything") {
  std::vector<double> values{10, 11, 12, 13, 14, 1e30, 1e30, -1e30, -1e30};
  CHECK(median(values) == 12.0);
  CHECK(mad_sigma(values) < 4.0);
}

TEST_CASE("the in-place forms give the same as the copying ones, which leave their values alone") {
  const std::vector<float> values{9, 2, 7, 4, 4, 8};
  std::vector<float> work = values;
  CHECK(median_in_place(work) == median(values));
  work = values;
  CHECK(mad_sigma_in_place(work) == mad_sigma(values));
  CHECK(values == std::vector<float>{9, 2, 7, 4, 4, 8});
}

TEST_CASE("no values and NaN among them give NaN") {
  CHECK(std::isnan(median(std::vector<double>{})));
  CHECK(std::isnan(mad_sigma(std::vector<float>{})));
  CHECK(std::isnan(median(std::vector<double>{1, std::nan(""), 2})));
  CHECK(std::isnan(mad_sigma(std::vector<double>{1, std::nan(""), 2})));
}
