// Scenes that stay the same while their noise is drawn anew.
#pragma once

#include <cstdint>
#include <vector>

#include "micrograph/image.h"
#include "micrograph/scene.h"

namespace accuracy {

/// A plain scale over the whole picture, with shot and read noise.
micrograph::Scene fixed_scene(double pitch_px);

/// Draws the light once and exposes it as often as wished, exactly as the renderer's own render() does.
class FixedScene {
 public:
  explicit FixedScene(const micrograph::Scene& scene);
  micrograph::Image with_noise(std::uint64_t seed) const;

 private:
  micrograph::Scene scene_;
  std::vector<float> light_;
};

}  // namespace accuracy
