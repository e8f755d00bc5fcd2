#include <doctest/doctest.h>
#include <scale/units.h>

#include "support/within.h"

using namespace scale;

namespace {

template <class A, class B>
concept addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept comparable = requires(A a, B b) {
  a < b;
};
template <class A, class B>
concept divisible = requires(A a, B b) {
  a / b;
};

// Units that do not belong together do not compile; tests/install shows the compiler's refusal itself.
static_assert(addable<Pixels, Pixels> && !addable<Micrometres, Pixels> && !addable<Pixels, double>);
static_assert(comparable<Micrometres, Micrometres> && !comparable<Micrometres, Pixels>);
static_assert(divisible<Micrometres, Pixels> && !divisible<Pixels, Micrometres>);

}  // namespace

TEST_CASE("a length over a size is a factor, and the factor times a size is a length again") {
  const MicrometresPerPixel factor = Micrometres{10.0} / Pixels{40.0};
  CHECK(within(factor.value, 0.25, 0.0));
  CHECK(within((factor * Pixels{12.0}).value, 3.0, 0.0));
  CHECK(within(Pixels{6.0} / Pixels{4.0}, 1.5, 0.0));
}

TEST_CASE("angles go from degrees to radians and back") {
  CHECK(within(radians_from_degrees(180.0).value, 3.141592653589793, 1e-15));
  CHECK(within(degrees(radians_from_degrees(-33.3)), -33.3, 1e-14));
}
