// Numbers as text, the same in every locale.
#pragma once

#include <array>
#include <charconv>
#include <string>

namespace scale::numeric {

// `decimals` digits behind the point, 15 at most.
inline std::string fixed(double value, int decimals) {
  std::array<char, 400> digits{};  // the largest double has 309 digits before the point
  const auto end =
      std::to_chars(digits.data(), digits.data() + digits.size(), value, std::chars_format::fixed, decimals).ptr;
  return {digits.data(), end};
}

}  // namespace scale::numeric
