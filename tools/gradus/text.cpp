#include "text.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace gradus {
namespace {

constexpr char kHexDigits[] = "0123456789abcdef";

bool is_continuation(char byte) { return (static_cast<unsigned char>(byte) & 0xC0U) == 0x80U; }

// Bytes of the UTF-8 character at the head of `text`; 0 when it is none (RFC 3629: no overlong forms, no
// surrogates, nothing above U+10FFFF).
std::size_t character_length(std::string_view text) {
  const auto lead = static_cast<unsigned char>(text[0]);
  const std::size_t length = lead < 0x80   ? 1
                             : lead < 0xC2 ? 0
                             : lead < 0xE0 ? 2
                             : lead < 0xF0 ? 3
                             : lead < 0xF5 ? 4
                                           : 0;
  if (length == 0 || length > text.size()) return 0;
  if (!std::all_of(text.begin() + 1, text.begin() + static_cast<std::ptrdiff_t>(length), is_continuation)) return 0;
  const unsigned char second = length > 1 ? static_cast<unsigned char>(text[1]) : 0;
  const bool overlong = (lead == 0xE0 && second < 0xA0) || (lead == 0xF0 && second < 0x90);
  const bool beyond = (lead == 0xED && second > 0x9F) || (lead == 0xF4 && second > 0x8F);
  return overlong || beyond ? 0 : length;
}

std::string escaped(unsigned char byte) {
  if (byte == '\n') return "\\n";
  if (byte == '\t') return "\\t";
  if (byte == '\r') return "\\r";
  return {'\\', 'x', kHexDigits[byte >> 4U], kHexDigits[byte & 15U]};
}

}  // namespace

std::string shortest(double value) {
  std::array<char, 32> digits{};  // the longest double takes 24 characters
  const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value).ptr;
  return {digits.data(), end};
}

std::string fixed(double value, int decimals) {
  std::array<char, 400> digits{};  // the largest double has 309 digits before the point
  const auto end =
      std::to_chars(digits.data(), digits.data() + digits.size(), value, std::chars_format::fixed, decimals).ptr;
  return {digits.data(), end};
}

int decimals_for(double uncertainty) {
  constexpr int kMost = 12;
  if (!(uncertainty > 0.0) || !std::isfinite(uncertainty)) return kMost;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(uncertainty))), 0, kMost);
}

std::string printable(std::string_view name) {
  const std::string text = valid_utf8(name);
  std::string result;
  for (const char character : text) {
    const auto byte = static_cast<unsigned char>(character);
    if (byte < 0x20 || byte == 0x7F)
      result += escaped(byte);
    else
      result += character;
  }
  return result;
}

std::string valid_utf8(std::string_view text) {
  std::string result;
  while (!text.empty()) {
    const std::size_t length = character_length(text);
    if (length == 0)
      result += "\uFFFD";
    else
      result += text.substr(0, length);
    text.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return result;
}

std::size_t display_width(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return !is_continuation(c); }));
}

}  // namespace gradus
