// Numbers and names as text, the same in every locale.
#pragma once

#include <string>
#include <string_view>

namespace gradus {

// Shortest decimal text that reads back as the same number; `value` must be finite.
std::string shortest(double value);

// `value` with `decimals` digits behind the point, rounded to nearest.
std::string fixed(double value, int decimals);

// Decimals that leave `uncertainty` two significant digits (JCGM 100, 7.2.6); at most 12, at least 0.
int decimals_for(double uncertainty);

// A file name fit for one line of a terminal or a message: control characters become \n, \t or \x1b.
std::string printable(std::string_view name);

// `text` as UTF-8; bytes that are none become U+FFFD.
std::string valid_utf8(std::string_view text);

// Columns a terminal gives to UTF-8 `text`, every character counted once.
std::size_t display_width(std::string_view text);

}  // namespace gradus
