// What a body shows that makes it doubtful which thing it is: a bubble, two fibres side by side, something drawn.
//
// Model.   A bubble of air is round, dark along its edge and bright in the middle. Two fibres side by side, whose rims
//          or slopes meet, show a line along their inside, as a medulla does as well. Software draws edges that are
//          made within a pixel, which optics do not, and lossy coding hardly softens them. A pale fibre beside a dark
//          one changes the tone in a step. The two sides of a transparent fibre that do not close at its ends are lines
//          that follow each other at an even distance, narrow as rims are.
// Limits.  None of them is proof: a round transparent grain looks like a bubble, a medullated fibre like two. They are
//          told, not left out. Only what is drawn is left out, and only beside bodies of clearly softer edges.
#pragma once

#include <scale/specimen.h>

#include "specimen/edges.h"

namespace scale {

bool looks_like_bubble(const Body& grain, const Relief& relief);

// A line inside, of the body's tone or lighter, or a step of tone, over most of its length.
bool has_line_inside(const Body& fibre, const Relief& relief);

// Letters and bars that lossy coding has changed: with edges sharper than optics make, and black or white as no body is
// or beside bodies of clearly softer edges. In a picture that is sharp all over they cannot be told. Gives their
// number.
int leave_out_drawn(std::vector<Body>& bodies, const ImageView& image);

}  // namespace scale
