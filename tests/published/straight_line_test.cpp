// The straight line against printed worked examples. Tolerances are half a unit of the last printed digit.
#include "numeric/straight_line.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "numeric/least_squares.h"
#include "support/within.h"
#include "table.h"

using namespace scale::numeric;
using test_support::Table;

namespace {

constexpr double kThreeDecimals = 0.5e-3;
constexpr double kFourDecimals = 0.5e-4;

Table iso_example(const std::string& name) { return Table("iso_ts_28037.csv").where("example", name); }

}  // namespace

TEST_CASE("ISO/TS 28037:2010, 6.3, page 13: equal weights, and prediction both ways") {
  const Table data = iso_example("1_equal_weights");
  const StraightLine line = fit_line(data.numbers("x"), data.numbers("y"), data.numbers("u_y"));
  CHECK(within(line.intercept, 1.867, kThreeDecimals));
  CHECK(within(line.slope, 1.757, kThreeDecimals));
  CHECK(within(line.intercept_uncertainty, 0.465, kThreeDecimals));
  CHECK(within(line.slope_uncertainty, 0.120, kThreeDecimals));
  CHECK(within(line.covariance, -0.050, kThreeDecimals));
  CHECK(within(line.chi_squared, 1.665, kThreeDecimals));
  CHECK(line.degrees_of_freedom == 4);
  CHECK(within(predict_x(line, 10.5, 0.5).value, 4.913, kThreeDecimals));
  CHECK(within(predict_x(line, 10.5, 0.5).uncertainty, 0.322, kThreeDecimals));
  CHECK(within(predict_y(line, 3.5, 0.2).value, 8.017, kThreeDecimals));
  CHECK(within(predict_y(line, 3.5, 0.2).uncertainty, 0.406, kThreeDecimals));
}

TEST_CASE("ISO/TS 28037:2010, 6.3, page 15: unequal weights") {
  const Table data = iso_example("2_unequal_weights");
  const StraightLine line = fit_line(data.numbers("x"), data.numbers("y"), data.numbers("u_y"));
  CHECK(within(line.intercept, 0.885, kThreeDecimals));
  CHECK(within(line.slope, 2.057, kThreeDecimals));
  CHECK(within(line.intercept_uncertainty, 0.530, kThreeDecimals));
  CHECK(within(line.slope_uncertainty, 0.178, kThreeDecimals));
  CHECK(within(line.covariance, -0.082, kThreeDecimals));
  CHECK(within(line.chi_squared, 4.131, kThreeDecimals));
  CHECK(within(predict_x(line, 10.5, 1.0).value, 4.674, kThreeDecimals));
  CHECK(within(predict_x(line, 10.5, 1.0).uncertainty, 0.533, kThreeDecimals));
}

TEST_CASE("ISO/TS 28037:2010, 7.4, page 21: errors in both variables") {
  const Table data = iso_example("3_errors_in_x_and_y");
  const StraightLine line =
      fit_line_errors_in_both(data.numbers("x"), data.numbers("u_x"), data.numbers("y"), data.numbers("u_y"));
  REQUIRE(line.valid);
  CHECK(within(line.intercept, 0.5788, kFourDecimals));
  CHECK(within(line.slope, 2.1597, kFourDecimals));
  CHECK(within(line.intercept_uncertainty, 0.4764, kFourDecimals));
  CHECK(within(line.slope_uncertainty, 0.1355, kFourDecimals));
  CHECK(within(line.covariance, -0.0577, kFourDecimals));
  CHECK(within(line.chi_squared, 2.743, kThreeDecimals));
}

TEST_CASE("ISO/TS 28037:2010, Annex E, page 58: unknown standard deviation") {
  const Table data = iso_example("4_unknown_sigma");
  const StraightLine line = fit_line(data.numbers("x"), data.numbers("y"));
  CHECK(within(line.intercept, 1.172, kThreeDecimals));
  CHECK(within(line.slope, 1.964, kThreeDecimals));
  CHECK(within(line.intercept_uncertainty, 0.159, kThreeDecimals));
  CHECK(within(line.slope_uncertainty, 0.041, kThreeDecimals));
  CHECK(within(line.covariance, -0.006, kThreeDecimals));
  CHECK(within(predict_x(line, 10.5, line.residual_sd).value, 4.751, kThreeDecimals));
  CHECK(within(predict_x(line, 10.5, line.residual_sd).uncertainty, 0.097, kThreeDecimals));
  CHECK(within(predict_y(line, 3.5).value, 8.044, kThreeDecimals));
  CHECK(within(predict_y(line, 3.5).uncertainty, 0.070, kThreeDecimals));
  CHECK(within(std::hypot(predict_y(line, 3.5).uncertainty, line.residual_sd), 0.18, 0.5e-2));
  // Not printed in the form read: computed from the printed data independently of this code.
  CHECK(within(line.chi_squared, 0.1165, kFourDecimals));
}

TEST_CASE("Pearson's data with York's weights: errors in both variables, unequal everywhere") {
  // Neri, Saitta, Chiofalo 1989 for a and b; chi-squared over N - 2 and the uncertainties by Kalantar 1992. The
  // latter linearise otherwise than ISO/TS 28037 (at the adjusted points), so 2 % is allowed there.
  const Table data("pearson_york.csv");
  const auto uncertainties = [&](const char* column) {
    std::vector<double> values = data.numbers(column);
    for (double& value : values) value = 1.0 / std::sqrt(value);
    return values;
  };
  const StraightLine line =
      fit_line_errors_in_both(data.numbers("x"), uncertainties("w_x"), data.numbers("y"), uncertainties("w_y"));
  REQUIRE(line.valid);
  CHECK(within(line.intercept, 5.47991022, 0.5e-8));
  CHECK(within(line.slope, -0.480533407, 0.5e-9));
  CHECK(within(line.chi_squared / line.degrees_of_freedom, 1.4833, kFourDecimals));
  CHECK(within(line.intercept_uncertainty / 0.29193, 1.0, 0.02));
  CHECK(within(line.slope_uncertainty / 0.057617, 1.0, 0.02));
}

TEST_CASE("JCGM 100:2008 (GUM), H.3: calibration of a thermometer") {
  const Table data("gum_h3_thermometer.csv");
  std::vector<double> offset = data.numbers("t_degC");
  for (double& t : offset) t -= 20.0;
  const StraightLine line = fit_line(offset, data.numbers("b_degC"));
  CHECK(within(line.intercept, -0.1712, kFourDecimals));
  CHECK(within(line.intercept_uncertainty, 0.0029, kFourDecimals));
  CHECK(within(line.slope, 0.00218, 0.5e-5));
  CHECK(within(line.slope_uncertainty, 0.00067, 0.5e-5));
  CHECK(within(line.covariance / (line.intercept_uncertainty * line.slope_uncertainty), -0.930, kThreeDecimals));
  CHECK(within(line.residual_sd, 0.0035, kFourDecimals));
  CHECK(line.degrees_of_freedom == 9);
  CHECK(within(predict_y(line, 10.0).value, -0.1494, kFourDecimals));
  CHECK(within(predict_y(line, 10.0).uncertainty, 0.0041, kFourDecimals));
}

TEST_CASE("NBS Technical Note 1164, Worksheet A: all 40 printed fitted values and residuals of a line-spacing scale") {
  const Table data("nbs_tn1164_line_spacing.csv");
  const StraightLine line = fit_line(data.numbers("reference_um"), data.numbers("observed_um"));
  REQUIRE(data.rows() == 40);
  for (std::size_t row = 0; row < data.rows(); ++row) {
    const double fitted = predict_y(line, data.number(row, "reference_um")).value;
    CHECK(within(fitted, data.number(row, "fitted_um_printed"), kFourDecimals));
    CHECK(within(data.number(row, "observed_um") - fitted, data.number(row, "residual_um_printed"), kFourDecimals));
  }
  CHECK(line.degrees_of_freedom == 38);
}
