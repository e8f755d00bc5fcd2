#include <scale/uncertainty.h>
#include <cmath>
#include <stdexcept>

#include "numeric/distributions.h"

namespace scale {

double coverage_factor(double degrees_of_freedom, double probability) {
  if (!(degrees_of_freedom >= 0.0))
    throw std::invalid_argument("coverage_factor: degrees of freedom below zero or NaN");
  if (!(probability > 0.0 && probability < 1.0))
    throw std::invalid_argument("coverage_factor: the probability must lie between 0 and 1");
  if (degrees_of_freedom == 0.0) return HUGE_VAL;  // the limit of Student's t: nothing is known
  // Exactly 2, where the quantile's rounding would leave 1.9999999.
  if (std::isinf(degrees_of_freedom) && probability == kCoverageProbability) return 2.0;
  return numeric::student_t_quantile(probability, degrees_of_freedom);
}

}  // namespace scale
