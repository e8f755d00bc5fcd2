// Combining uncertainties: the arithmetic of JCGM 100:2008 (GUM) and the Monte-Carlo check of JCGM 101:2008.
//
// Model.       y = f(x_1 .. x_n), near the estimates y = y_0 + sum c_i (X_i - x_i) with sensitivities c_i = df/dx_i.
// Method.      u^2(y) = sum c_i^2 u_i^2 + 2 sum c_i c_j u_i u_j r_ij              (GUM 5.2.2, equation 16)
//              nu_eff = u^4(y) / sum (c_i u_i)^4 / nu_i                           (G.4.1, Welch-Satterthwaite)
//              U = k u(y), k = Student's t of nu_eff for the coverage probability  (G.3.2, G.4.2)
// Assumption.  f is straight over the uncertainties; where it is not, `propagate` samples f itself and says so by
//              another interval. Welch-Satterthwaite holds for independent inputs.
// Limits.      Nothing is rounded here; `for_report` rounds, at output only (GUM 7.2.6).
// Units.       Whatever the inputs have; a standard uncertainty has the unit of its input.
//
//   std::vector<UncertainInput> inputs = {{"certificate", 50.000623, 25e-6, Distribution::student_t, 18}, ...};
//   CombinedUncertainty result = combine(inputs);
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <span>
#include <string>
#include <vector>

namespace scale {

// What is known of an input, as JCGM 101, 6.4 assigns it.
enum class Distribution { normal, student_t, rectangular, triangular, arcsine, curvilinear_trapezoid };

const char* name_of(Distribution distribution);

struct UncertainInput {
  std::string name;
  double value = 0.0;
  double standard_uncertainty = 0.0;  // of student_t: the scale s of x + s t, as GUM has it
  Distribution distribution = Distribution::normal;
  double degrees_of_freedom = std::numeric_limits<double>::infinity();
  double sensitivity = 1.0;
  double limits_inexact_by = 0.0;  // curvilinear_trapezoid only: the half-width is known to plus or minus this
};

// Between the inputs at these places of the list.
struct Correlation {
  std::size_t first = 0, second = 0;
  double coefficient = 0.0;  // in [-1, 1]
};

struct CombinedUncertainty {
  double standard_uncertainty = 0.0;
  double degrees_of_freedom = 0.0;  // effective; infinite when no input has finite ones
  double coverage_factor = 2.0;
  double expanded_uncertainty = 0.0;
};

// erf(2 / sqrt(2)): the share of a normal distribution within two standard deviations, so that the coverage factor
// tends to 2 exactly (GUM, Table G.2, column 95.45 %).
inline constexpr double kCoverageProbability = 0.954499736103641585599434725666933125;

// Student's t for the coverage probability (2 for infinitely many degrees of freedom and 95.45 %).
double coverage_factor(double degrees_of_freedom, double probability = kCoverageProbability);

// Standard uncertainty of a quantity that lies within plus or minus `half_width` (GUM 4.3.7, 4.3.9; arcsine for what
// swings like a sine). Of normal and student_t: std::invalid_argument, they have no limits.
double standard_uncertainty_within(double half_width, Distribution distribution = Distribution::rectangular);

// Degrees of freedom of an uncertainty that is itself known to this share (GUM G.4.2): 0.25 gives 8.
double degrees_of_freedom_of_reliability(double relative_uncertainty_of_uncertainty);

// Throws std::invalid_argument for a negative or non-finite uncertainty, degrees of freedom not above 0, or a
// correlation out of range or of an input that does not exist.
CombinedUncertainty combine(std::span<const UncertainInput> inputs, std::span<const Correlation> correlations = {},
                            double probability = kCoverageProbability);

// A value as it is reported: the uncertainty with two digits, the value to the same place (GUM 7.2.6). Uncertainties
// are rounded up (10.47 to 11), save where that makes no difference that anybody could defend (28.05 to 28).
struct Reported {
  double value = 0.0, uncertainty = 0.0;
  int decimals = 0;  // digits behind the point that both deserve; at least 0
};
Reported for_report(double value, double uncertainty);

// (a - b) / sqrt(U_a^2 + U_b^2), the En number: the two agree when it is within [-1, 1] (ISO/IEC Guide 43-1, as
// reported). Both expanded uncertainties with the same coverage; they must not share a component.
double normalised_error(double a, double expanded_a, double b, double expanded_b);

// ISO 14253-1 (as reported; the standard was not read): conformity is shown only inside limits reduced by U on either
// side, non-conformity only outside limits enlarged by U; in between neither is shown.
enum class Conformity { conforms, undecided, does_not_conform };
Conformity conformity(double value, double expanded_uncertainty, double lower_limit, double upper_limit);

struct MonteCarlo {
  std::size_t trials = 0;
  double mean = 0.0;
  double standard_uncertainty = 0.0;
  double low = 0.0, high = 0.0;                      // the shortest interval of the probability (JCGM 101, 5.3.4)
  double symmetric_low = 0.0, symmetric_high = 0.0;  // the one that leaves equal shares at both ends
};

using MeasurementModel = std::function<double(std::span<const double>)>;

// JCGM 101, clause 7. Draws every input from its distribution `trials` times (1000 or more, JCGM 101, 7.2) and
// evaluates `model`; sensitivities are not used. The same seed gives the same result on any number of threads;
// `model` is called from several at once. Memory: 8 bytes a trial.
// Throws std::invalid_argument for inputs as `combine` does, and for too few trials.
MonteCarlo propagate(std::span<const UncertainInput> inputs, const MeasurementModel& model, std::size_t trials,
                     std::uint64_t seed, double probability = kCoverageProbability);

}  // namespace scale
