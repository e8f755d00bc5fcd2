// Scales that lie among each other, proposed by the picture's spectrum: where most lines run into others no part of the
// picture shows one scale by itself, but over the whole field the two are two frequencies.
//
// Model. What two scales let through is multiplied, so the logarithm of the light is the sum of both, and its
// two-dimensional spectrum has a peak at one over the pitch, in the direction of the axis, for each. Under a Hann
// window two peaks are apart when they differ by some two periods over the field, which is the limit named in
// two_rulings.h. The phase at the peak tells where the lines lie, its height along the lines where they begin and end.
//
// Limits. Harmonics, and what perspective spreads a peak into, are proposed as well: every proposal is only a start
// that must hold when lines are followed (`fit_comb`).
#pragma once

#include <vector>

#include "ruling/comb.h"

namespace scale {

// Hann's keeps two scales of nearly equal pitch apart; the level one sees what lies near the picture's border as well.
enum class Window { hann, level };

// Strongest first. `dark`: the lines are darker than the ground.
std::vector<CombStart> starts_by_spectrum(const Light& light, bool dark, Window window = Window::hann);

}  // namespace scale
