#include "specimen/narrow.h"

#include <algorithm>
#include <cmath>

namespace scale {
namespace {

double phi(double t) { return 0.5 * std::erfc(-t / std::sqrt(2.0)); }

double bar(double x, double width, double blur) {
  return phi((x + 0.5 * width) / blur) - phi((x - 0.5 * width) / blur);
}

// The root of a function that grows (or falls) over [low, high].
template <class Function>
double root(const Function& function, double low, double high) {
  const bool grows = function(high) > function(low);
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    ((function(middle) > 0.0) == grows ? high : low) = middle;
  }
  return 0.5 * (low + high);
}

// Where a bar passes this share of its peak.
double passes(double share, double width, double blur) {
  const double level = share * bar(0.0, width, blur);
  return root([&](double x) { return bar(x, width, blur) - level; }, 0.0, 0.5 * width + 6.0 * blur);
}

double disc(double r, double radius, double blur) {
  constexpr int kSteps = 200;
  double sum = 0.0;
  for (int i = 0; i < kSteps; ++i) {
    const double rho = radius * (i + 0.5) / kSteps, argument = r * rho / (blur * blur);
    const double gauss = -0.5 * (r - rho) * (r - rho) / (blur * blur);
    // exp(-z) I_0(z) by its series at large arguments, where I_0 alone would overflow.
    const double bessel = argument < 30.0 ? std::cyl_bessel_i(0.0, argument) * std::exp(-argument)
                                          : (1.0 + 1.0 / (8.0 * argument)) / std::sqrt(6.283185307179586 * argument);
    sum += rho * std::exp(gauss) * bessel;
  }
  return sum * radius / kSteps / (blur * blur);
}

}  // namespace

double bar_width(double measured, double blur) {
  if (measured > kFullyResolved * blur) return measured;
  if (measured < 2.0 * passes(0.5, kResolved * blur, blur)) return 0.0;
  return root([&](double width) { return 2.0 * passes(0.5, width, blur) - measured; }, kResolved * blur, measured);
}

double apparent_blur(double width, double blur) {
  constexpr double kQuartile = 0.67449;
  return (passes(0.25, width, blur) - passes(0.75, width, blur)) / (2.0 * kQuartile);
}

double blur_of_bar(double measured, double apparent) {
  // A bar looks somewhat sharper than it is, never sharper than half.
  return root(
      [&](double blur) {
        const double width = bar_width(measured, blur);
        return apparent_blur(width > 0.0 ? width : kResolved * blur, blur) - apparent;
      },
      0.5 * apparent, 2.0 * apparent);
}

double disc_correction(double measured_radius, double blur) {
  if (measured_radius > kFullyResolved * blur) return 0.5 * blur * blur / measured_radius;
  const auto half_radius = [&](double radius) {
    const double level = 0.5 * disc(0.0, radius, blur);
    return root([&](double r) { return disc(r, radius, blur) - level; }, 0.0, radius + 6.0 * blur);
  };
  const double radius =
      root([&](double r) { return half_radius(r) - measured_radius; }, 0.5 * blur, measured_radius + 2.0 * blur);
  return radius - measured_radius;
}

}  // namespace scale
