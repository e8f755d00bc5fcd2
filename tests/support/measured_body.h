// What a specimen painted by a test comes to.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include <scale/measurement.h>
#include <scale/specimen.h>

namespace test_support {

// The one body, as `measure --um-per-pixel 1` gives it.
inline scale::MeasuredBody measured(const scale::SpecimenReading& reading) {
  scale::MeasurementConditions conditions;
  conditions.scale.x_um_per_pixel = conditions.scale.y_um_per_pixel = 1.0;
  conditions.grey = scale::GreyCurve::linear;
  const auto bodies = scale::measure_bodies(reading, conditions);
  REQUIRE(bodies.size() == 1);
  return bodies.front();
}

inline bool warned(const scale::SpecimenReading& reading, const std::string& code) {
  return std::any_of(reading.warnings.begin(), reading.warnings.end(),
                     [&](const auto& warning) { return warning.code == code; });
}

}  // namespace test_support
