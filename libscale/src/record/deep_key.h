// Keys of many parts. The parser makes a table of each part, one within the other, and takes the stack to let them go:
// a key of some hundred thousand parts would end the program.
#pragma once

#include <string>
#include <string_view>

namespace scale::record {

inline constexpr int kDeepestKey = 16;  // parts; the lab file's own have three

// The first line, from 1, with a key of more parts than that, by the dots outside quotes; 0: there is none.
int line_of_deep_key(std::string_view text);

// The key that is given its value on a line, counted from 1; empty where there is none. TOML's own errors name no key.
std::string key_on_line(std::string_view text, std::size_t line);

}  // namespace scale::record
