// specimen_speed: how many two-megapixel pictures of fibres `gradus measure` does in a second, and how long bodies take
// in a twenty-megapixel picture of grains against decoding it, and what every image adds to memory. Prints the figures
// of docs/performance.md.
#include <gradus/keep_memory.h>
#include <images/read_image.h>
#include <micrograph/files.h>
#include <micrograph/render.h>
#include <micrograph/specimen.h>
#include <scale/specimen.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <opencv2/core/utility.hpp>

#include "child.h"
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

// Peak of a run over so many links to one small picture, bytes.
double peak_over_links(const fs::path& root, int count) {
  const fs::path folder = root / ("links-" + std::to_string(count));
  fs::create_directories(folder);
  for (int i = 0; i < count; ++i) fs::create_symlink("../small.png", folder / ("fibre-" + std::to_string(i) + ".png"));
  const bench::Cost cost =
      bench::run({GRADUS_PROGRAM, "measure", folder.string(), "--um-per-pixel", "0.5", "--across", "80,10:80,110",
                  "--csv", (root / "links.csv").string(), "--jobs", "1", "--quiet"});
  return cost.exit_code == 0 ? cost.peak_bytes : 0.0;
}

// The list of the images and their sizes are all that grows with their number.
bool bytes_an_image(const fs::path& root, int count, double most) {
  micrograph::Scene scene = micrograph::empty_slide(3);
  scene.width = 160, scene.height = 120;
  scene.bodies.push_back(micrograph::arc_fibre(80, 60, 0.0, 400.0, 30.0));
  micrograph::write_image(micrograph::render(scene), (root / "small.png").string(), micrograph::FileFormat::png, 90);
  const int few = count / 10;
  const double first = peak_over_links(root, few), last = peak_over_links(root, count);
  const double each = (last - first) / (count - few);
  // Less than this program had itself tells nothing.
  const bool good = std::min(first, last) > bench::own_peak_bytes() && each <= most;
  std::printf("memory over %d and %d links to a small picture: %.1f, %.1f MB, %.0f bytes an image (at most %.0f)%s\n",
              few, count, first / 1e6, last / 1e6, each, most, good ? "" : " MISSED");
  return good;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Speed of gradus measure.");
  int count = 60, links = 16000;
  double slack = 1.0;
  app.add_option("--images", count, "pictures in the folder");
  app.add_option("--links", links, "links to a small picture, for the memory");
  app.add_option("--slack", slack, "how many times slower is still good, on a machine with other work");
  CLI11_PARSE(app, argc, argv);
  const fs::path root = fs::temp_directory_path() / "gradus-bench-specimen";
  fs::remove_all(root);  // pictures of an older renderer
  fs::create_directories(root);
  // A run's peak varies by half a megabyte, whatever the number of images. First, as what is drawn here counts in.
  const bool memory = bytes_an_image(root, links, 100.0 + 1e6 / links);
  const bool rate = folder_rate(root, count, 15.0 / slack);
  const bool ratio = large_ratio(root, 4.0 * slack);
  return rate && ratio && memory ? 0 : 1;
}
