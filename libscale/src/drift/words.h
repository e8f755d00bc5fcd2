// Numbers in the sentences of the evidence, the same in every locale.
#pragma once

#include <array>
#include <string>

#include "numeric/fixed_text.h"

namespace scale::drift {

using numeric::fixed;

// A share as a percentage with two significant digits, at least one decimal: "0.41 %", "12.3 %".
std::string percent(double share);

// A pixel size with four significant digits: "0.6902 µm".
std::string micrometres(double value);

// A length as somebody stated it, every digit of it: "100 µm", "12.5 µm".
std::string stated_length(double um);

std::string size_words(const std::array<int, 2>& size);

}  // namespace scale::drift
