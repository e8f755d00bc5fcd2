// What was found in an image, drawn over it: graduations with division numbers, rejected lines, direction.
#pragma once

#include <scale/calibration.h>
#include <scale/ruling.h>

#include <array>
#include <string>

#include "display.h"

namespace gradus {

// Numbers are those of the scale's graduations where `numbering` is known, else counted from the first one seen. A
// second scale of the picture has an ink of its own and `mark` before its numbers.
void draw_ruling(Display& display, const scale::Ruling& ruling, const scale::Numbering& numbering = {},
                 const std::string& mark = "");

// The ink of a second scale, in words.
std::string second_ink_name(const scale::Ruling& ruling);

// `slot` 0, 1, ...: rulings of one picture have their arrows beside each other, with their names above where they have
// some.
void draw_direction(Display& display, const scale::Ruling& ruling, int slot, const std::string& name = "");

// What the two rulings of a picture through an eyepiece are, and the marks before their numbers.
inline constexpr std::array<const char*, 2> kEyepieceNames{"micrometer", "reticle"}, kEyepieceMarks{"", "r"};

// How far a refused reading came: the lines it saw and the directions it tried.
void draw_attempt(Display& display, const scale::Reading& reading);

}  // namespace gradus
