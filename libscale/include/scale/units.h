// Lengths that cannot be mixed up: a number with its unit in the type.
//
//   Micrometres division{10.0};
//   Pixels pitch{14.5};
//   MicrometresPerPixel factor = division / pitch;
//   division + pitch;            // does not compile (tests/unit/units_test.cpp)
#pragma once

#include <compare>

namespace scale {

template <class Unit>
struct Quantity {
  double value = 0.0;
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return {a.value + b.value}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return {a.value - b.value}; }
  friend constexpr Quantity operator*(double f, Quantity a) { return {f * a.value}; }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.value / b.value; }
  friend constexpr auto operator<=>(Quantity, Quantity) = default;
};

using Pixels = Quantity<struct PixelUnit>;
using Micrometres = Quantity<struct MicrometreUnit>;
using MicrometresPerPixel = Quantity<struct MicrometrePerPixelUnit>;
using Radians = Quantity<struct RadianUnit>;

constexpr MicrometresPerPixel operator/(Micrometres length, Pixels size) { return {length.value / size.value}; }
constexpr Micrometres operator*(MicrometresPerPixel factor, Pixels size) { return {factor.value * size.value}; }

inline constexpr double kPi = 3.14159265358979323846;
constexpr double degrees(Radians angle) { return angle.value * (180.0 / kPi); }
constexpr Radians radians_from_degrees(double angle_deg) { return {angle_deg * (kPi / 180.0)}; }

}  // namespace scale
