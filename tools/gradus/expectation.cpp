#include "expectation.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "text.h"

namespace gradus {
namespace {

// Ratios of the divisions in use (1, 2, 5, 10, 20, 50, 100 µm, 1 mm) and of slips of a unit.
constexpr std::array<double, 7> kPlainRatios = {2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 1000.0};

// An objective's magnification may be off by 5 % (ISO 8039, as reported; the standard itself was not read).
constexpr double kRatioTolerance = 0.05;

// Objective and relay lens together; judged, no source.
constexpr double kAgreement = 0.10;

bool near(double ratio, double plain) { return std::abs(ratio / plain - 1.0) <= kRatioTolerance; }

std::string in_words(double micrometres) {
  const int leading = static_cast<int>(std::floor(std::log10(micrometres)));
  return fixed(micrometres, std::max(0, 2 - leading));
}

}  // namespace

std::optional<scale::Warning> compare_with_expected(scale::MicrometresPerPixel found,
                                                    scale::MicrometresPerPixel expected, scale::Micrometres division) {
  const double ratio = found / expected;
  const std::string seen =
      in_words(found.value) + " µm/px was found where " + in_words(expected.value) + " is expected: ";
  for (const double plain : kPlainRatios) {
    const bool above = near(ratio, plain), below = near(1.0 / ratio, plain);
    if (!above && !below) continue;
    const std::string factor = above ? fixed(plain, 0) : "1/" + fixed(plain, 0);
    const double likely = above ? division.value / plain : division.value * plain;
    return scale::Warning{"division-doubtful", seen + factor + " times as much; is a division " + shortest(likely) +
                                                   " µm instead of " + shortest(division.value) + " µm?"};
  }
  if (std::abs(ratio - 1.0) <= kAgreement) return std::nullopt;
  return scale::Warning{"off-expected",
                        seen + fixed(ratio, 3) + " times as much; check objective, relay lens, binning and image size"};
}

}  // namespace gradus
