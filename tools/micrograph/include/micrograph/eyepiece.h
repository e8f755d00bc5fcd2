// Pictures through an eyepiece with two scales in them: a stage micrometer and a reticle.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "micrograph/scene.h"

namespace micrograph {

enum class EyepieceClass {
  beside,           ///< side by side, parallel, of any two pitches
  beside_alike,     ///< of nearly equal pitch, with a beat over the field
  beside_slanted,   ///< a few degrees from parallel
  beside_round,     ///< a round bright field in a dark frame
  beside_tilted,    ///< the camera was held askew
  beside_numerals,  ///< the reticle with numerals
  beside_defocus,   ///< one of them in poorer focus
  beside_faint,     ///< one of them much fainter
  beside_jpeg,      ///< coded, with noise and dirt
  ends,             ///< line ends overlap
  ends_alike,       ///< likewise, of nearly equal pitch
  ends_round,       ///< likewise, in a round field, with dirt
  crossing,         ///< across each other at 3 to 12 degrees
  crossing_wide,    ///< at 15 to 75 degrees
  crossing_dirty,   ///< at 3 to 30 degrees with noise, coding and dirt
  over,             ///< one wholly over the other, two beats or more over what is in view
  over_slanted,     ///< likewise, at 1 to 3 degrees
  beside_phone,     ///< side by side as a telephone held to the eyepiece shows them: all of the troubles above, a bit
                    ///< of each, coloured and uneven light, sharpened by the camera
  ends_phone,       ///< likewise, line ends overlap
  over_phone,       ///< likewise, one over the other
  single,           ///< one scale only
  three             ///< three scales
};

std::vector<EyepieceClass> all_eyepiece_classes();
std::string_view name_of(EyepieceClass eyepiece_class);
std::optional<EyepieceClass> eyepiece_class_named(std::string_view name);

/// Of the scene's scales the first is the micrometer and the second the reticle of 100 divisions. The same scene for
/// the same class and seed, on every platform.
Scene random_eyepiece(EyepieceClass eyepiece_class, std::uint64_t seed);

}  // namespace micrograph
