// Do lines cross the ruling, or do spots lie in rows?
//
// About one line of a ruling, light is a function of two places: across the line, s, and along it, v. Where other lines
// cross it, all of them covered once or twice, that function is c + a(s) b(v), blurred or not: what changes along the
// line changes with the same profile everywhere. Spots, holes and yarns that are rounded change their width on the way.
//
// Method. The means of cells of a fine grid about each line, less their running mean along the line, are a matrix of
// rank one where lines cross, and nought where none do. What the first singular pair does not explain is taken as the
// median over the columns, which a scratch or dust does not move, less the noise, and as the median over the lines.
#pragma once

#include "ruling/graduations.h"
#include "ruling/strips.h"

namespace scale {

// Root mean squares, grey values; 0 where too little of the lines is seen.
struct Crossing {
  double all = 0.0;          // of what changes along the lines: ragged edges and the grain of a plate change little
  double inseparable = 0.0;  // of the part that lines do not explain
};

// `noise`: of a pixel, grey values.
Crossing look_across(const Strips& strips, const Graduations& graduations, double noise);

}  // namespace scale
