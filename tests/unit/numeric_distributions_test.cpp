#include "numeric/distributions.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "support/within.h"

using namespace scale::numeric;

namespace {

constexpr double kTight = 1e-12;  // relative, several times the library's own error
constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

}  // namespace

TEST_CASE("Student's t has its closed forms at one and two degrees of freedom") {
  // t(1) = tan(pi p / 2); t(2) = p sqrt(2 / (1 - p^2)).
  for (double p : {0.1, 0.5, 0.9, 0.95, 0.9545, 0.999}) {
    const double one = std::tan(std::acos(-1.0) * p / 2);
    const double two = p * std::sqrt(2 / (1 - p * p));
    CHECK(within(student_t_quantile(p, 1) / one, 1.0, kTight));
    CHECK(within(student_t_quantile(p, 2) / two, 1.0, kTight));
  }
}

TEST_CASE("infinitely many degrees of freedom are the normal distribution") {
  CHECK(within(student_t_quantile(std::erf(2 / std::sqrt(2.0)), kInfinity), 2.0, kTight));
  CHECK(within(student_t_quantile(std::erf(3 / std::sqrt(2.0)), kInfinity), 3.0, 1e-11));
  CHECK(within(student_t_quantile(0.95, 1e12), student_t_quantile(0.95, kInfinity), 1e-9));
}

TEST_CASE("fractional degrees of freedom lie between their neighbours") {
  const double between = student_t_quantile(0.95, 16.7);
  CHECK(between < student_t_quantile(0.95, 16));
  CHECK(between > student_t_quantile(0.95, 17));
}

TEST_CASE("chi-square with two degrees of freedom is exponential") {
  for (double x : {0.0, 0.5, 3.0, 40.0}) CHECK(within(chi_square_survival(x, 2) / std::exp(-x / 2), 1.0, kTight));
}

TEST_CASE("the F ratio has its closed form for two degrees above and is Student's t squared for one") {
  // P(F(2, d) > f) = (1 + 2 f / d)^(-d/2).
  for (double f : {0.5, 3.0, 30.0}) CHECK(within(f_survival(f, 2, 9) / std::pow(1 + 2 * f / 9, -4.5), 1.0, kTight));
  const double t = student_t_quantile(0.95, 7);
  CHECK(within(f_survival(t * t, 1, 7), 0.05, kTight));
}

TEST_CASE("a very large value keeps a probability that is small and not negative") {
  CHECK(f_survival(1e6, 3, 80) > 0.0);
  CHECK(f_survival(1e6, 3, 80) < 1e-100);
  CHECK(chi_square_survival(1e3, 4) > 0.0);
  CHECK(chi_square_survival(kInfinity, 4) == 0.0);
  CHECK(f_survival(kInfinity, 3, 80) == 0.0);
}

TEST_CASE("arguments out of range give NaN and never throw") {
  for (double p : {-0.1, 1.0, kNaN}) CHECK(std::isnan(student_t_quantile(p, 5)));
  for (double dof : {0.0, -1.0, kNaN}) {
    CHECK(std::isnan(student_t_quantile(0.95, dof)));
    CHECK(std::isnan(chi_square_survival(1, dof)));
    CHECK(std::isnan(f_survival(1, dof, 5)));
    CHECK(std::isnan(f_survival(1, 5, dof)));
  }
  CHECK(std::isnan(chi_square_survival(-1, 5)));
  CHECK(std::isnan(f_survival(kNaN, 5, 5)));
}

TEST_CASE("the normal score of t has the same probability on both sides") {
  // One degree of freedom: P(T > 1) = 1/4, and 0.6744897501960817 is the normal's upper quartile.
  CHECK(within(normal_score_of_t(1.0, 1), 0.6744897501960817, kTight));
  CHECK(within(normal_score_of_t(-1.0, 1), -0.6744897501960817, kTight));
  CHECK(normal_score_of_t(0.0, 5) == 0.0);
  CHECK(normal_score_of_t(2.5, kInfinity) == 2.5);
  CHECK(within(normal_score_of_t(student_t_quantile(std::erf(2 / std::sqrt(2.0)), 7), 7), 2.0, 1e-9));
  CHECK(std::isfinite(normal_score_of_t(1e300, 3000)));
  CHECK(std::isnan(normal_score_of_t(1.0, 0)));
  CHECK(std::isnan(normal_score_of_t(kNaN, 3)));
}
