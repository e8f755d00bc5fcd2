// From a scene to its picture.
#pragma once

#include <vector>

#include "micrograph/image.h"
#include "micrograph/scene.h"

namespace micrograph {

/// The light on the sensor times the exposure, full scale = 1, not clipped, before noise and everything after it.
/// Row by row, `scene.colour.channels` values a pixel. Throws std::invalid_argument for an invalid scene.
std::vector<float> render_clean(const Scene& scene);

/// What the camera makes of the light of render_clean(). The noise comes from the scene's seed: another seed gives
/// fresh noise on the same light.
Image develop(const Scene& scene, std::vector<float> clean);

/// The stored picture: noise, mosaic, gamma, sharpening, resampling, drawn-over text, depth, JPEG and back.
Image render(const Scene& scene);

}  // namespace micrograph
