#include "drift/words.h"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace scale::drift {
namespace {

// Decimals that show `digits` significant digits of `value`.
int decimals_of(double value, int digits) {
  if (!(std::abs(value) > 0.0) || !std::isfinite(value)) return 0;
  return std::clamp(digits - 1 - static_cast<int>(std::floor(std::log10(std::abs(value)))), 0, 9);
}

}  // namespace

std::string percent(double share) { return fixed(100.0 * share, std::max(1, decimals_of(100.0 * share, 2))) + " %"; }

std::string micrometres(double value) { return fixed(value, decimals_of(value, 4)) + " µm"; }

std::string stated_length(double um) {
  // More digits than anybody states, fewer than a change of unit spoils. No exponent up to a metre.
  constexpr int kDigits = 12;
  std::array<char, 32> digits{};
  const auto written =
      std::to_chars(digits.data(), digits.data() + digits.size(), um, std::chars_format::general, kDigits);
  return std::string(digits.data(), written.ptr) + " µm";
}

std::string size_words(const std::array<int, 2>& size) {
  return std::to_string(size[0]) + " × " + std::to_string(size[1]);
}

}  // namespace scale::drift
