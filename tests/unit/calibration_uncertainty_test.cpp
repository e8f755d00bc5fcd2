#include <doctest/doctest.h>
#include <scale/uncertainty.h>

#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "support/within.h"

using namespace scale;

namespace {
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
double first(std::span<const double> x) { return x[0]; }
}  // namespace

TEST_CASE("fully correlated inputs add, anticorrelated ones cancel") {
  const std::vector<UncertainInput> inputs = {{"a", 0.0, 3.0}, {"b", 0.0, 4.0}};
  CHECK(within(combine(inputs).standard_uncertainty, 5.0, 1e-12));
  CHECK(within(combine(inputs, std::array{Correlation{0, 1, 1.0}}).standard_uncertainty, 7.0, 1e-12));
  CHECK(within(combine(inputs, std::array{Correlation{0, 1, -1.0}}).standard_uncertainty, 1.0, 1e-12));
}

TEST_CASE("inputs that cancel wholly leave an uncertainty of nothing, not a NaN") {
  const std::vector<UncertainInput> inputs = {{"a", 0.0, 0.1, Distribution::student_t, 3.0},
                                              {"b", 0.0, 0.1, Distribution::student_t, 3.0}};
  const CombinedUncertainty nothing = combine(inputs, std::array{Correlation{0, 1, -1.0}});
  CHECK(nothing.standard_uncertainty == 0.0);
  CHECK(nothing.expanded_uncertainty == 0.0);
}

TEST_CASE("what cannot be combined is the caller's mistake") {
  CHECK_THROWS_AS(combine(std::vector<UncertainInput>{{"a", 0.0, -1.0}}), std::invalid_argument);
  CHECK_THROWS_AS(combine(std::vector<UncertainInput>{{"a", kNaN, 1.0}}), std::invalid_argument);
  CHECK_THROWS_AS(combine(std::vector<UncertainInput>{{"a", 0.0, 1.0, Distribution::normal, 0.0}}),
                  std::invalid_argument);
  const std::vector<UncertainInput> two = {{"a", 0.0, 1.0}, {"b", 0.0, 1.0}};
  CHECK_THROWS_AS(combine(two, std::array{Correlation{0, 2, 0.5}}), std::invalid_argument);
  CHECK_THROWS_AS(combine(two, std::array{Correlation{0, 1, 1.5}}), std::invalid_argument);
  CHECK_THROWS_AS(propagate(two, first, 10, 1), std::invalid_argument);
  CHECK_THROWS_AS(standard_uncertainty_within(1.0, Distribution::normal), std::invalid_argument);
  CHECK_THROWS_AS(for_report(1.0, -1.0), std::invalid_argument);
}

TEST_CASE("the same seed samples the same values, another one others") {
  const std::vector<UncertainInput> inputs = {{"a", 0.0, 1.0}};
  const MonteCarlo once = propagate(inputs, first, 20000, 7), again = propagate(inputs, first, 20000, 7);
  CHECK(once.mean == again.mean);
  CHECK(once.low == again.low);
  CHECK(once.mean != propagate(inputs, first, 20000, 8).mean);
}

TEST_CASE("sampled inputs have the standard uncertainty they were given, whatever their distribution") {
  for (const Distribution distribution :
       {Distribution::normal, Distribution::rectangular, Distribution::triangular, Distribution::arcsine}) {
    CAPTURE(name_of(distribution));
    const MonteCarlo sampled = propagate(std::vector<UncertainInput>{{"a", 5.0, 2.0, distribution}}, first, 200000, 3);
    CHECK(within(sampled.mean, 5.0, 0.02));
    CHECK(within(sampled.standard_uncertainty, 2.0, 0.02));
  }
}

TEST_CASE("a reported uncertainty has two digits, however large or small") {
  const auto uncertainty_of = [](double u) { return for_report(1.0, u).uncertainty; };
  CHECK(within(uncertainty_of(0.00012345), 0.00013, 1e-12));
  CHECK(within(uncertainty_of(9.97), 10.0, 1e-12));
  CHECK(for_report(1.0, 9.97).decimals == 0);
  CHECK(within(uncertainty_of(0.0997), 0.10, 1e-12));
  CHECK(for_report(1.0, 0.0997).decimals == 2);
  CHECK(within(uncertainty_of(1234.0), 1300.0, 1e-9));
  CHECK(within(for_report(54321.0, 1234.0).value, 54300.0, 1e-9));
}
