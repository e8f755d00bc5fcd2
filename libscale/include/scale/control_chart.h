// Control charts of one quantity over time: has it changed, since when, and by how much?
//
// Individuals  centre +- 3 sigma, moving ranges up to D4 d2 sigma = 3.69 sigma (Shewhart; NIST/SEMATECH e-Handbook
//              6.3.2.2). After a base period of n values with mean m and standard deviation s these are prediction
//              limits for one further value, m +- t(n - 1) s sqrt(1 + 1/n), and for the difference of two, t(n - 1) s
//              sqrt(2), with Student's t for as many false alarms as three sigma have, 0.27 % (prediction interval for
//              a normal value, ISO 16269-8; formula and number of the standard from memory). Taken as exact, three
//              sigma of ten values have four times as many.
// EWMA         E_t = lambda y_t + (1 - lambda) E_{t-1}, E_0 = centre; limits centre +- L sigma sqrt(lambda / (2 -
//              lambda)) (6.3.2.4), by default times sqrt(1 - (1 - lambda)^2t), which E_t has soon after the start.
// CUSUM        S+_t = max(0, S+_{t-1} + y_t - centre - k sigma), S-_t likewise; signal beyond h sigma (6.3.2.3).
// Line         for a calibration line y = a + b x: W = (y - a) / b - x of m check standards; limits +- s t / b with
//              Student's t for zeta = (1 - exp(ln(1 - alpha) / m)) / 2 on each side (2.3.7).
// Change point the step that explains the values best by least squares, with the shots that it cannot be told from at
//              95 % (likelihood ratio 3.84), against a slow trend that begins at a shot and goes on.
//
// Sigma is the long-term scatter of a shot: from a base period, or the standard uncertainty that the budget states. Of
// the latter a part is the calibration's own error, one and the same under all shots: a constant offset that is no
// change. Where it is stated, EWMA and CUSUM are run over the departures from what calibration and earlier shots let
// expect: with offset ~ N(0, c^2) and shots of scatter s, sigma^2 = s^2 + c^2, the expectation m_t and its variance v_t
// are those of the offset given the shots before t, and a departure is (y_t - m_t) sigma / sqrt(s^2 + v_t). In control
// these are independent and of one sigma, so that run lengths are those of the tables (one-step prediction; textbook
// result for a normal mean). Without it they are y_t - centre.
//
// Centre and sigma of a base period are estimates from a few shots. Were they taken as exact, half of all years of
// weekly shots would raise an alert of EWMA or CUSUM after a base period of 10 shots, a third after one of 20; 13 %
// should (simulated; tests/unit/drift_base_test.cpp). The charts are therefore self-starting (D. M. Hawkins,
// "Self-starting CUSUM charts for location and scale", The Statistician 36 (1987), from memory): with mean m and
// standard deviation s of the n shots before, (y - m) / (s sqrt(1 + 1/n)) is Student's t of n - 1 degrees of freedom,
// whatever centre and sigma really are; the normal value of the same probability, times sigma, is the departure. In the
// base period itself, which was agreed to be in order, departures are 0.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace scale {

struct ChartSettings {
  double lambda = 0.2, ewma_limit = 2.962;      // average run length 500 in control (method of the trade)
  bool ewma_settled = false;                    // limits as after a long time, from the first shot on
  double cusum_slack = 0.5, cusum_limit = 5.0;  // in sigma; average run length 465
  double shewhart_limit = 3.0;                  // in sigma
};

struct ChartBase {
  double centre = 0.0;
  double sigma = 0.0;               // of one shot about the centre; above 0
  double centre_uncertainty = 0.0;  // standard, the part of sigma that all shots have in common; below sigma
  std::size_t period = 0;           // so many first values gave centre and sigma; 0: these are known from elsewhere
  double shot_sigma() const;        // what is left of sigma without it
};

// Mean and standard deviation of a base period. None with fewer than 2 values or no scatter.
std::optional<ChartBase> base_of(std::span<const double> values);

struct ControlChart {
  ChartBase base;
  ChartSettings settings;
  std::vector<double> values, moving_range;                     // the range has one less
  std::vector<double> departures;                               // what EWMA and CUSUM are run over
  std::vector<double> ewma, ewma_reach, cusum_high, cusum_low;  // ewma_reach: the limits are centre +- this
  // Places in `values` of the first beyond a limit. Values of the base period were agreed to be in order.
  std::optional<std::size_t> first_beyond, first_ewma, first_cusum, first_range;
  double lower = 0.0, upper = 0.0, ewma_lower = 0.0, ewma_upper = 0.0 /* settled */, range_upper = 0.0,
         cusum_decision = 0.0;

  bool beyond(std::size_t place) const;        // of a value
  bool range_beyond(std::size_t place) const;  // of the difference between that value and the one before
  std::optional<std::size_t> first_alert() const;
};

// Throws std::invalid_argument when sigma is not positive, the centre's uncertainty not below it, the period of one
// value or longer than the values, lambda not in (0, 1], or a limit not positive.
ControlChart control_chart(std::span<const double> values, const ChartBase& base, const ChartSettings& settings = {});

enum class ChangeKind { none, jump, trend, jump_or_trend };

struct ChangePoint {
  ChangeKind kind = ChangeKind::none;  // none: a step would explain no more than chance does (1 %)
  std::size_t first_after = 0;         // the most likely first value after the change
  std::size_t earliest = 0, latest = 0;
  double size = 0.0, expanded_uncertainty = 0.0;  // of a jump: mean after minus mean before, 95.45 %
  double slope = 0.0;                             // of a trend, a value
};

// Of values with scatter base.shot_sigma(), or after a base period with the scatter that all of them show; the level
// before is estimated as well. Fewer than 2 values: none.
ChangePoint change_point(std::span<const double> values, const ChartBase& base);

struct LineChart {
  double limit = 0.0;                        // +- of a control value
  std::vector<std::vector<double>> control;  // W of each occasion, one a check standard
  std::vector<bool> out;                     // any beyond the limit
};

// The line that the values are held against, with the residual standard deviation of its fit.
struct CalibrationLine {
  double intercept = 0.0, slope = 1.0, residual_sd = 0.0;
  double degrees_of_freedom = 0.0;
};

struct CheckStandard {
  double reference = 0.0, measured = 0.0;
};

CalibrationLine calibration_line(std::span<const CheckStandard> base);

LineChart line_chart(std::span<const std::vector<CheckStandard>> occasions, const CalibrationLine& line,
                     double alpha = 0.05);

// Shewhart's constants for samples of 2 to 10: the mean range over sigma, and the upper limit of the range over its
// mean.
double range_constant_d2(int sample);
double range_constant_D4(int sample);

}  // namespace scale
