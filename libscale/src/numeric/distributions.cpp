#include "numeric/distributions.h"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>

namespace scale::numeric {
namespace {

namespace policies = boost::math::policies;
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

// Every kind of error comes back as a value (NaN, infinity), never as an exception.
using ValuesOnly = policies::policy<
    policies::domain_error<policies::ignore_error>, policies::pole_error<policies::ignore_error>,
    policies::overflow_error<policies::ignore_error>, policies::underflow_error<policies::ignore_error>,
    policies::denorm_error<policies::ignore_error>, policies::rounding_error<policies::ignore_error>,
    policies::evaluation_error<policies::ignore_error>, policies::indeterminate_result_error<policies::ignore_error>>;

bool is_above_zero(double value) { return value > 0.0; }  // false for NaN

}  // namespace

double student_t_quantile(double probability, double degrees_of_freedom) {
  if (!(probability >= 0.0 && probability < 1.0) || !is_above_zero(degrees_of_freedom)) return kNaN;
  if (probability == 0.0) return 0.0;
  const double tail = (1.0 - probability) / 2.0;
  if (std::isinf(degrees_of_freedom)) {
    const boost::math::normal_distribution<double, ValuesOnly> normal;
    return quantile(complement(normal, tail));
  }
  const boost::math::students_t_distribution<double, ValuesOnly> student(degrees_of_freedom);
  return quantile(complement(student, tail));
}

double normal_score_of_t(double t, double degrees_of_freedom) {
  if (std::isnan(t) || !is_above_zero(degrees_of_freedom)) return kNaN;
  if (std::isinf(degrees_of_freedom)) return t;
  const boost::math::students_t_distribution<double, ValuesOnly> student(degrees_of_freedom);
  const double tail = std::max(cdf(student, -std::abs(t)), std::numeric_limits<double>::min());
  return std::copysign(quantile(complement(boost::math::normal_distribution<double, ValuesOnly>(), tail)), t);
}

double chi_square_survival(double value, double degrees_of_freedom) {
  if (!(value >= 0.0) || !is_above_zero(degrees_of_freedom) || std::isinf(degrees_of_freedom)) return kNaN;
  if (std::isinf(value)) return 0.0;
  const boost::math::chi_squared_distribution<double, ValuesOnly> chi_squared(degrees_of_freedom);
  return cdf(complement(chi_squared, value));
}

double f_survival(double ratio, double numerator_degrees_of_freedom, double denominator_degrees_of_freedom) {
  const bool in_range = ratio >= 0.0 && is_above_zero(numerator_degrees_of_freedom) &&
                        is_above_zero(denominator_degrees_of_freedom) && std::isfinite(numerator_degrees_of_freedom) &&
                        std::isfinite(denominator_degrees_of_freedom);
  if (!in_range) return kNaN;
  if (std::isinf(ratio)) return 0.0;
  const boost::math::fisher_f_distribution<double, ValuesOnly> fisher(numerator_degrees_of_freedom,
                                                                      denominator_degrees_of_freedom);
  return cdf(complement(fisher, ratio));
}

}  // namespace scale::numeric
