// A specimen to measure, rendered with the project's own renderer.
#pragma once

#include <filesystem>
#include <string>

#include "documents.h"

namespace cli_test {

// A fibre of this width across the picture; 0: none.
inline std::string scene(int width, int height, double fibre_px, int seed) {
  using nlohmann::json;
  json body = {{"fibre", true}, {"width_px", fibre_px}, {"points", {40.0, 0.4 * height, width - 40.0, 0.6 * height}}};
  json bodies = json::array();
  if (fibre_px > 0.0) bodies.push_back(body);
  return json{{"width", width},
              {"height", height},
              {"seed", seed},
              {"ground", {{"contrast", 0.5}}},
              {"sensor", {{"read_noise", 2.0}}},
              {"bodies", bodies}}
      .dump();
}

inline void render(const std::filesystem::path& path, int width, int height, double fibre_px, int seed = 1) {
  const TemporaryFolder folder;
  write_file(folder / "s.json", scene(width, height, fibre_px, seed));
  REQUIRE(
      run({MICROGRAPH_PROGRAM, "--scene", (folder / "s.json").string(), "--out", folder.path().string()}).exit_code ==
      0);
  std::filesystem::create_directories(path.parent_path());
  std::filesystem::copy_file(folder / "s_picture.png", path, std::filesystem::copy_options::overwrite_existing);
}

}  // namespace cli_test
