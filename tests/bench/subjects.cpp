#include "subjects.h"

#include <array>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "child.h"

namespace bench {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr int kRecipe = 1;     // to be raised when the scene below changes: names the files in the cache
constexpr int kDifferent = 8;  // pictures in a folder; enough that no two in flight are the same file
constexpr double kDivisionUm = 10.0;
constexpr double kAnswerTolerance = 1e-4;

json scene_of(int width, int seed) {
  const double height = std::round(width / 1.5), pitch = width / (106.52 + 0.07 * seed);
  const double angle = 1.7 - 0.6 * (seed % kDifferent);
  const double turn = angle * 3.14159265358979 / 180.0;
  const double along = 50.0 * pitch, across = 0.1 * height;  // the scale's middle lies in the middle of the picture
  const json scale = {{"angle_deg", angle},
                      {"pitch_px", pitch},
                      {"origin_x", 0.5 * width - along * std::cos(turn) + across * std::sin(turn)},
                      {"origin_y", 0.5 * height - along * std::sin(turn) - across * std::cos(turn)},
                      {"count", 101},
                      {"line_width_px", 0.23 * pitch},
                      {"short_px", 0.2 * height},
                      {"medium_px", 0.26 * height},
                      {"long_px", 0.34 * height}};
  return {{"width", width},
          {"height", static_cast<int>(height)},
          {"seed", 20000 + seed},
          {"ground", {{"level", 0.75}, {"contrast", 0.7}}},
          {"scales", json::array({scale})},
          {"optics", {{"gaussian_px", 0.035 * pitch}}},
          {"shading", {{"linear_x", 0.05}, {"linear_y", -0.04}, {"vignette", 0.2}}},
          {"clutter", {{"dirt", 60}}},
          {"sensor", {{"full_well", 10000}, {"read_noise", 1.0}, {"jpeg_quality", 90}}}};
}

void render(const fs::path& cache, const std::string& stem, const json& scene, const std::string& format) {
  const fs::path file = cache / (stem + ".scene.json");
  std::ofstream(file) << scene;
  const Cost cost = run({MICROGRAPH_PROGRAM, "--scene", file, "--out", cache, "--format", format});
  if (cost.exit_code != 0) throw std::runtime_error("micrograph could not render " + file.string());
  for (const std::string& ending : {std::string("json"), format})
    fs::rename(cache / (stem + ".scene_picture." + ending), cache / (stem + "." + ending));
}

}  // namespace

Subject micrometer(const fs::path& cache, int width, int seed, const std::string& format) {
  fs::create_directories(cache);
  const std::string stem =
      "micrometer_" + std::to_string(kRecipe) + "_" + std::to_string(width) + "_" + std::to_string(seed) + "_" + format;
  if (!fs::exists(cache / (stem + "." + format))) render(cache, stem, scene_of(width, seed), format);
  const json truth = json::parse(std::ifstream(cache / (stem + ".json")));
  return {cache / (stem + "." + format), truth.at("axes").at(0).at("pitch_px"),
          truth.at("width").get<double>() * truth.at("height").get<double>()};
}

fs::path folder_of(const fs::path& cache, int width, int count) {
  const fs::path folder = cache / ("folder_" + std::to_string(count));
  fs::remove_all(folder);
  fs::create_directories(folder);
  for (int i = 0; i < count; ++i) {
    std::array<char, 16> name{};
    std::snprintf(name.data(), name.size(), "%04d.jpg", i);
    fs::create_hard_link(micrometer(cache, width, i % kDifferent, "jpg").picture, folder / name.data());
  }
  return folder;
}

bool is_right(double um_per_pixel, const Subject& subject) {
  return std::abs(um_per_pixel * subject.pitch_px / kDivisionUm - 1.0) <= kAnswerTolerance;
}

}  // namespace bench
