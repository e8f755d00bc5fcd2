// Pictures without a scale.
#pragma once

#include <functional>

#include "micrograph/random.h"
#include "micrograph/scene.h"
#include "plane.h"

namespace micrograph {

/// Multiplies `light` by the pattern of the scene's kind, its parameters drawn from the scene's seed.
void draw_pattern(const Scene& scene, Plane& light);

/// Share of the light taken at a pixel, 0 to 1.
using Cover = std::function<double(double x, double y)>;
Cover stripes_cover(const Scene& scene, Random& random);  ///< uneven_stripes, chirp, changing_pairs
Cover round_cover(const Scene& scene, Random& random);    ///< rings, star, zone_plate
Cover cells_cover(const Scene& scene, Random& random);    ///< brickwork, cloth, tiles, voronoi, discs
Cover cloud_cover(Random& random);

void draw_white_noise(Random& random, Plane& light);
void draw_loose_fibres(const Scene& scene, Random& random, Plane& light);  ///< fibres, parallel_fibres, scratches
void draw_grains(const Scene& scene, Random& random, Plane& light);
void draw_text_page(const Scene& scene, Random& random, Plane& light);
void draw_edges(const Scene& scene, Random& random, Plane& light);

/// A number of its own for each cell of a lattice, in [0, 1).
double cell_number(std::uint64_t seed, int i, int j, int which);

}  // namespace micrograph
