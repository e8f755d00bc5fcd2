// specimen_speed: how many two-megapixel pictures of fibres `gradus measure` does in a second, and how long bodies take
// in a twenty-megapixel picture of grains against decoding it. Prints the figures of docs/performance.md.
#include <gradus/keep_memory.h>
#include <images/read_image.h>
#include <micrograph/files.h>
#include <micrograph/render.h>
#include <micrograph/specimen.h>
#include <scale/specimen.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <opencv2/core/utility.hpp>

#include "cli/process.h"
#include "figures.h"

namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

void render(const micrograph::Scene& scene, const fs::path& path) {
  micrograph::write_image(micrograph::render(scene), path.string(), micrograph::FileFormat::jpg, 90);
}

// Five to ten fibres over 1632 x 1224 pixels.
fs::path fibre_folder(const fs::path& root, int count) {
  const fs::path folder = root / "fibres";
  fs::create_directories(folder);
  constexpr int kDifferent = 4;
  for (int i = 0; i < count; ++i) {
    const fs::path path = folder / (std::to_string(i) + ".jpg");
    if (i >= kDifferent) {
      fs::copy_file(folder / (std::to_string(i % kDifferent) + ".jpg"), path);
      continue;
    }
    micrograph::Scene scene = micrograph::random_specimen(
        i % 2 == 0 ? micrograph::SpecimenClass::fibre_mat : micrograph::SpecimenClass::fibres,
        500 + static_cast<std::uint64_t>(i));
    scene.width = 1632, scene.height = 1224;
    render(scene, path);
  }
  return folder;
}

// 200 grains in 5472 x 3648 pixels.
fs::path large_picture(const fs::path& root) {
  micrograph::Scene scene = micrograph::empty_slide(20);
  scene.width = 5472, scene.height = 3648;
  micrograph::Random random(20);
  for (int i = 0; i < 200; ++i) {
    const double a = random.uniform(30.0, 90.0), x = (i % 20 + 0.5) * 273.6, y = (i / 20 + 0.5) * 364.8;
    scene.bodies.push_back(micrograph::ellipse_grain(x, y, a, a * random.uniform(0.6, 1.0), random.uniform(0, 180)));
  }
  const fs::path path = root / "grains.jpg";
  render(scene, path);
  return path;
}

bool folder_rate(const fs::path& root, int count, double least) {
  const fs::path folder = fibre_folder(root, count);
  std::vector<double> rates;
  for (int i = 0; i < 3; ++i) {
    const auto start = Clock::now();
    const auto run = cli_test::gradus({"measure", folder.string(), "--um-per-pixel", "0.5", "--csv",
                                       (root / "w.csv").string(), "--jobs", "2", "--quiet"});
    if (run.exit_code != 0) return std::printf("gradus measure failed: %s\n", run.errors.c_str()), false;
    rates.push_back(count / seconds_since(start));
  }
  const double rate = bench::median(rates);
  std::printf("2-megapixel pictures a second, two threads: %.1f (at least %.0f)%s\n", rate, least,
              rate < least ? " MISSED" : "");
  return rate >= least;
}

bool large_ratio(const fs::path& root, double most) {
  const fs::path path = large_picture(root);
  cv::setNumThreads(1);  // this and the next as the program does
  gradus::keep_memory();
  std::vector<double> decoding, finding;
  std::size_t bodies = 0;
  for (int i = 0; i < 5; ++i) {
    auto start = Clock::now();
    const auto picture = images::read_image(path.string());
    decoding.push_back(seconds_since(start));
    start = Clock::now();
    bodies = scale::find_bodies(picture->view()).bodies.size();
    finding.push_back(seconds_since(start));
  }
  const double found = bench::median(finding), decoded = bench::median(decoding), ratio = found / decoded;
  std::printf("20 megapixels, %zu bodies of 200: %.0f ms over %.0f ms of decoding, %.2f (at most %.1f)%s\n", bodies,
              1e3 * found, 1e3 * decoded, ratio, most, ratio > most ? " MISSED" : "");
  return ratio <= most && bodies == 200;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Speed of gradus measure.");
  int count = 60;
  double slack = 1.0;
  app.add_option("--images", count, "pictures in the folder");
  app.add_option("--slack", slack, "how many times slower is still good, on a machine with other work");
  CLI11_PARSE(app, argc, argv);
  const fs::path root = fs::temp_directory_path() / "gradus-bench-specimen";
  fs::remove_all(root);  // pictures of an older renderer
  fs::create_directories(root);
  const bool rate = folder_rate(root, count, 15.0 / slack);
  const bool ratio = large_ratio(root, 4.0 * slack);
  return rate && ratio ? 0 : 1;
}
