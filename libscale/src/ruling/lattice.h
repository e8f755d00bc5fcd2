// Evenly spaced edges among others: the period of a ruling, with the number of false alarms it would take.
//
// Model. Edges of one sign lie at s_n = a + p n, some missing, others in between. Candidate periods come from
// distances of near neighbours and from the spectrum; for each the longest chain of edges whose steps are 1, 2
// or 3 periods is kept, then fitted by a straight line (a parabola from eight edges on, for a scale that changes
// over the field).
//
// Decision (a contrario; Desolneux, Moisan, Morel, From Gestalt Theory to Image Analysis, 2008). If the edges were
// strewn at random with the density seen along the chain, a cell of the lattice would hold one within +-delta with
// probability q = 1 - exp(-2 delta density). The expected number of chains as good as this one is
//     tests * P(Binomial(cells - f, q) >= hits - f),
// f being the two or three numbers fitted, and the tail being bounded by exp(-n KL(hits/n, q)) (Hoeffding 1963): an
// upper bound, never flattering. Rising and falling edges of one pitch are taken as independent but for one number,
// their distance. The null is a model; the rate on pictures without a scale is measured by the accuracy suite as well.
#pragma once

#include <vector>

#include "ruling/edges.h"

namespace scale {

struct Lattice {
  double pitch = 0.0;  // along s, bins
  double residual_rms = 0.0;
  double log10_false_alarms = 0.0;
  double occupancy = 0.0;   // hits / cells
  double strength = 0.0;    // median of its edges
  double log10_tail = 0.0;  // of the binomial with one number fitted: what a second set of edges adds
  std::vector<int> index;   // 0, 1, 2, ... with gaps where an edge is missing
  std::vector<double> position;
  std::vector<double> edge_strength;
};

// Periods worth trying, most promising first, at most `most`: distances that near neighbours of one sign often have.
std::vector<double> candidate_pitches(const Edges& edges, std::size_t most);

// Joins the lattices of rising and falling edges: where both have one pitch the better one, with the false alarms of
// both together; else just the better one. Either may be empty.
Lattice join(Lattice rising, Lattice falling, bool& rising_leads);

// Hoeffding's bound on the probability of at least so many successes in so many trials of probability q, as log10.
double log10_tail_bound(double trials, double successes, double q);

// The best lattice of period near `pitch`; empty `index` when there is none of three edges or more.
// `tests`: how many edge sets are tried in one picture.
Lattice best_lattice(const std::vector<Edge>& edges, double pitch, double tests);

}  // namespace scale
