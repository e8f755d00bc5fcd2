#include "patterns.h"

namespace micrograph {
namespace {

void cover(const Cover& share, Plane& light) {
  for (int y = 0; y < light.height; ++y) {
    float* row = light.row(y);
    for (int x = 0; x < light.width; ++x) row[x] *= static_cast<float>(1.0 - share(x, y));
  }
}

}  // namespace

double cell_number(std::uint64_t seed, int i, int j, int which) {
  std::uint64_t z = seed + 0x9e3779b97f4a7c15ULL * static_cast<std::uint64_t>(i + 100003) +
                    0xc2b2ae3d27d4eb4fULL * static_cast<std::uint64_t>(j + 700001) +
                    0x165667b19e3779f9ULL * static_cast<std::uint64_t>(which + 1);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return static_cast<double>((z ^ (z >> 31)) >> 11) * 0x1.0p-53;
}

void draw_pattern(const Scene& scene, Plane& light) {
  Random random(scene.seed, 0x9a77e2);
  switch (scene.no_scale) {
    case NoScale::none:
    case NoScale::blank:
    case NoScale::jpeg_grid:
      return;
    case NoScale::white_noise:
      return draw_white_noise(random, light);
    case NoScale::cloud:
      return cover(cloud_cover(random), light);
    case NoScale::fibres:
    case NoScale::parallel_fibres:
    case NoScale::scratches:
      return draw_loose_fibres(scene, random, light);
    case NoScale::grains:
      return draw_grains(scene, random, light);
    case NoScale::text_page:
      return draw_text_page(scene, random, light);
    case NoScale::edges:
      return draw_edges(scene, random, light);
    case NoScale::uneven_stripes:
    case NoScale::chirp:
    case NoScale::changing_pairs:
      return cover(stripes_cover(scene, random), light);
    case NoScale::rings:
    case NoScale::star:
    case NoScale::zone_plate:
      return cover(round_cover(scene, random), light);
    case NoScale::brickwork:
    case NoScale::cloth:
    case NoScale::tiles:
    case NoScale::voronoi:
    case NoScale::discs:
      return cover(cells_cover(scene, random), light);
  }
}

}  // namespace micrograph
