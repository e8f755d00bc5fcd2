#include <scale/calibration.h>
#include <cmath>
#include <stdexcept>

#include "numeric/distributions.h"

namespace scale {
namespace {

// erf(2 / sqrt(2)): the share of a normal distribution within two standard deviations, so that the factor tends
// to 2 exactly (JCGM 100, Table G.2, column 95.45 %).
constexpr double kCoverageProbability = 0.954499736103641585599434725666933125;

}  // namespace

double coverage_factor(double degrees_of_freedom) {
  if (!(degrees_of_freedom >= 0.0))
    throw std::invalid_argument("coverage_factor: degrees of freedom below zero or NaN");
  if (degrees_of_freedom == 0.0) return HUGE_VAL;  // the limit of Student's t: nothing is known
  if (std::isinf(degrees_of_freedom)) return 2.0;
  return numeric::student_t_quantile(kCoverageProbability, degrees_of_freedom);
}

}  // namespace scale
