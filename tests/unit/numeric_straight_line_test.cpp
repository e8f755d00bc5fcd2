#include "numeric/straight_line.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <vector>

#include "support/within.h"

using namespace scale::numeric;
using Values = std::vector<double>;

namespace {

constexpr double kExact = 1e-13;  // a few roundings of numbers near one

}  // namespace

TEST_CASE("equal but unknown uncertainties are taken from the scatter about the line") {
  // Closed form: x = -1, 0, 1, y = 0, 0, 3 gives 1 + 1.5 x and a residual sum of squares of 1.5 on one degree.
  const StraightLine line = fit_line(Values{-1, 0, 1}, Values{0, 0, 3});
  REQUIRE(line.valid);
  CHECK(within(line.intercept, 1.0, kExact));
  CHECK(within(line.slope, 1.5, kExact));
  CHECK(within(line.residual_sd, std::sqrt(1.5), kExact));
  CHECK(within(line.intercept_uncertainty, std::sqrt(1.5 / 3), kExact));
  CHECK(within(line.slope_uncertainty, std::sqrt(1.5 / 2), kExact));
  CHECK(within(line.covariance, 0.0, kExact));
  CHECK(line.degrees_of_freedom == 1);
}

TEST_CASE("an offset of the abscissae of a hundred million costs the slope no more than its rounding") {
  const StraightLine line = fit_line(Values{1e8, 1e8 + 1, 1e8 + 2, 1e8 + 3}, Values{1, 3, 5, 7});
  CHECK(within(line.slope, 2.0, 1e-12));
  CHECK(within(predict_y(line, 1e8 + 1.5).value, 4.0, 1e-7));  // the intercept is -2e8: 16 digits end here
}

TEST_CASE("the uncertainty of a prediction survives an origin far away") {
  // Same scatter, abscissae shifted by 1e8: the height of the line in its middle is as certain as before.
  const Values y{1.1, 2.9, 5.1, 6.9};
  const double near = predict_y(fit_line(Values{0, 1, 2, 3}, y), 1.5).uncertainty;
  const double far = predict_y(fit_line(Values{1e8, 1e8 + 1, 1e8 + 2, 1e8 + 3}, y), 1e8 + 1.5).uncertainty;
  CHECK(near > 0.0);
  CHECK(within(far / near, 1.0, 1e-9));
}

TEST_CASE("known uncertainties do not follow the scatter and tell by chi-squared when they are wrong") {
  const Values x{0, 1, 2, 3}, y{0.0, 2.0, 4.0, 6.6};
  const StraightLine small = fit_line(x, y, Values(4, 0.1));
  const StraightLine large = fit_line(x, y, Values(4, 0.2));
  CHECK(within(small.slope, large.slope, kExact));
  CHECK(within(large.slope_uncertainty / small.slope_uncertainty, 2.0, kExact));
  CHECK(within(small.chi_squared / large.chi_squared, 4.0, kExact));
}

TEST_CASE("a point of large uncertainty hardly counts") {
  const StraightLine line = fit_line(Values{0, 1, 2, 3}, Values{0, 2, 4, 60}, Values{0.1, 0.1, 0.1, 1e6});
  CHECK(within(line.slope, 2.0, 1e-9));
}

TEST_CASE("errors in both variables with a vanishing one reduce to the weighted line") {
  const Values x{0, 1, 2, 4}, y{0.3, 1.9, 4.2, 7.9}, u_y{0.1, 0.2, 0.1, 0.2};
  const StraightLine weighted = fit_line(x, y, u_y);
  const StraightLine both = fit_line_errors_in_both(x, Values(4, 1e-9), y, u_y);
  REQUIRE(both.valid);
  CHECK(within(both.slope, weighted.slope, 1e-12));
  CHECK(within(both.intercept, weighted.intercept, 1e-12));
  CHECK(within(both.slope_uncertainty, weighted.slope_uncertainty, 1e-12));
}

TEST_CASE("errors in both variables treat the two alike: swapping them inverts the slope") {
  const Values x{1.2, 1.9, 2.9, 4.0}, y{3.4, 4.4, 7.2, 8.5}, u_x{0.2, 0.1, 0.2, 0.3}, u_y{0.2, 0.2, 0.4, 0.4};
  const StraightLine forward = fit_line_errors_in_both(x, u_x, y, u_y);
  const StraightLine backward = fit_line_errors_in_both(y, u_y, x, u_x);
  REQUIRE(forward.valid);
  REQUIRE(backward.valid);
  CHECK(within(forward.slope * backward.slope, 1.0, 1e-8));
  CHECK(within(forward.chi_squared, backward.chi_squared, 1e-8));
}

TEST_CASE("a line through the origin has no intercept and one more degree of freedom") {
  // Closed form: slope = (1*2 + 2*4 + 3*6.3) / 14.
  const StraightLine line = fit_line_through_origin(Values{1, 2, 3}, Values{2, 4, 6.3});
  CHECK(within(line.slope, 28.9 / 14, kExact));
  CHECK(line.intercept == 0.0);
  CHECK(line.intercept_uncertainty == 0.0);
  CHECK(line.degrees_of_freedom == 2);
  CHECK(within(predict_y(line, 5.0).uncertainty, 5.0 * line.slope_uncertainty, kExact));
}

TEST_CASE("predicting forwards and backwards leads back to the start") {
  const StraightLine line = fit_line(Values{0, 1, 2, 3}, Values{1.1, 2.9, 5.2, 6.8});
  const Estimate y = predict_y(line, 1.7);
  CHECK(within(predict_x(line, y.value).value, 1.7, kExact));
  CHECK(within(predict_x(line, y.value).uncertainty, y.uncertainty / line.slope, kExact));
  CHECK(predict_x(line, y.value, 0.5).uncertainty > 0.5 / line.slope);
}

TEST_CASE("points that define no line are said so and give NaN") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const auto is_refused = [](const StraightLine& line) { return !line.valid && std::isnan(line.slope); };
  CHECK(is_refused(fit_line(Values{}, Values{})));
  CHECK(is_refused(fit_line(Values{2}, Values{3})));
  CHECK(is_refused(fit_line(Values{2, 2, 2}, Values{3, 4, 5})));
  CHECK(is_refused(fit_line(Values{1, 2, nan}, Values{3, 4, 5})));
  CHECK(is_refused(fit_line(Values{1, 2}, Values{3, 4}, Values{0.1, 0.0})));
  CHECK(is_refused(fit_line_errors_in_both(Values{1, 2}, Values{0.1, -1}, Values{3, 4}, Values{0.1, 0.1})));
  CHECK(is_refused(fit_line_through_origin(Values{0, 0}, Values{1, 2})));
}

TEST_CASE("two points make a line whose uncertainty is unknown") {
  const StraightLine line = fit_line(Values{0, 2}, Values{1, 5});
  CHECK(within(line.slope, 2.0, kExact));
  CHECK(line.degrees_of_freedom == 0);
  CHECK(std::isnan(line.slope_uncertainty));
}

TEST_CASE("lists of different length are the caller's mistake") {
  CHECK_THROWS_AS(fit_line(Values{1, 2}, Values{1}), std::invalid_argument);
  CHECK_THROWS_AS(fit_line(Values{1, 2}, Values{1, 2}, Values{1}), std::invalid_argument);
  CHECK_THROWS_AS(fit_line_errors_in_both(Values{1, 2}, Values{1}, Values{1, 2}, Values{1, 1}), std::invalid_argument);
  CHECK_THROWS_AS(fit_line_through_origin(Values{1}, Values{}), std::invalid_argument);
}
