// The three distributions that uncertainties need. Arguments out of range give NaN; nothing throws.
#pragma once

namespace scale::numeric {

// t with P(|T| <= t) = probability. Degrees of freedom may be fractional (Welch-Satterthwaite) or infinite (normal).
// `probability` in [0, 1), degrees of freedom above 0.
double student_t_quantile(double probability, double degrees_of_freedom);

// The standard normal value that is as likely to be exceeded as `t` of Student's distribution; NaN where no degrees of
// freedom are left. Beyond what a double can say of a probability it stops, at some 37.
double normal_score_of_t(double t, double degrees_of_freedom);

// P(X > value), X chi-square distributed.
double chi_square_survival(double value, double degrees_of_freedom);

// P(X > ratio), X an F ratio.
double f_survival(double ratio, double numerator_degrees_of_freedom, double denominator_degrees_of_freedom);

}  // namespace scale::numeric
