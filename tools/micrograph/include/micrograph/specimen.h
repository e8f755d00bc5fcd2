// Random pictures of specimens: fibres and grains with their truth, by class, from seeds.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "micrograph/random.h"
#include "micrograph/scene.h"

namespace micrograph {

enum class SpecimenClass {
  fibres,          ///< solid, straight and bent, apart from each other
  rimmed_fibres,   ///< a dark rim round a bright middle
  bright_fibres,   ///< on a dark ground
  fibre_mat,       ///< five that cross each other and leave the frame
  rimmed_mat,      ///< the same, transparent
  rough_fibres,    ///< tapered and scaly, as wool is
  grains,          ///< solid discs, ellipses and round blobs, apart
  angular_grains,  ///< polygons with sharp corners
  rimmed_grains,
  bright_grains,
  touching_grains,  ///< pairs with a neck between them
  soft,             ///< fibres out of focus
  noisy,            ///< fibres in strong noise
  dirty,            ///< fibres among dirt, on uneven ground
  marked            ///< fibres with text and a scale bar burnt in
};

std::vector<SpecimenClass> all_specimen_classes();
std::string_view name_of(SpecimenClass specimen);
std::optional<SpecimenClass> specimen_class_named(std::string_view name);
Scene random_specimen(SpecimenClass specimen, std::uint64_t seed);

/// An empty slide: 1280 x 960, bright level 0.75, contrast 0.5, blur 1 px, read noise 3 grey levels of 255.
Scene empty_slide(std::uint64_t seed);

/// A fibre whose centre line is an arc: through (x, y) in its middle, there at this angle; `bend` is one over the
/// radius.
Body arc_fibre(double x, double y, double angle_deg, double length_px, double width_px, double bend = 0.0);

/// The ellipse with these half axes; `points` of them.
Body ellipse_grain(double x, double y, double a, double b, double angle_deg, int points = 720);

/// A closed outline of random roundish shape: radius times 1 plus waves of two to five periods of this strength.
Body blob_grain(double x, double y, double radius, double strength, Random& random);

}  // namespace micrograph
