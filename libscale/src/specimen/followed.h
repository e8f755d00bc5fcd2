// Fibres that a line follows at an even distance: of a transparent body, the core or a side.
//
// Model.   Rims are thin lines beside what lies between them. A core has one on both sides; a side has the other side,
//          which is a line like itself, and both are narrow against the blur.
// Limits.  Two fibres may lie like that as well: a side is told, not left out.
#pragma once

#include <scale/specimen.h>

#include "specimen/silhouettes.h"

namespace scale {

bool is_core(const Body& fibre, const Silhouettes& shapes);
bool may_be_a_side(const Body& fibre, const Silhouettes& shapes);

}  // namespace scale
