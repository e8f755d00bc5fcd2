// The bench `speed`: prints each figure with its limit, and exits 1 when one is missed or an answer is wrong.
//
// Ratios of one run's own times rather than seconds, so that another machine gives much the same. The machine should
// do nothing else meanwhile; the load before the start is printed.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>

#include "figures.h"
#include "folder.h"
#include "single.h"
#include "subjects.h"

namespace {

using namespace bench;

// The smoke share runs beside anything on any machine, on a small picture, where what does not grow with the picture
// outweighs what does: its limits only notice a collapse. That of `gradus --version` is the real one.
struct Plan {
  int width;  // of the large picture; its height is two thirds
  int runs;
  int folder, folder_runs;  // pictures; a tenth of them is the small folder
  double ratio_jpeg, ratio_png, bytes_per_pixel, jobs;
};
constexpr Plan kWhole{5472, 9, 200, 3, 0.8, 0.35, 3.0, 1.8};
constexpr Plan kSmoke{1728, 3, 20, 1, 60.0, 15.0, 3.0, 0.7};
constexpr double kStartMs = 30.0;
constexpr double kFolderMemory = 1.1;  // "flat": ten times the pictures may cost a tenth more, for their results
constexpr int kFolderWidth = 1280;

double load_before() {
  double load = 0.0;
  return getloadavg(&load, 1) == 1 ? load : -1.0;
}

// Memory first: a child's peak counts this process too, as it was when it forked.
int measure(const Plan& plan, const std::filesystem::path& cache, const std::string& only) {
  const auto wanted = [&only](const char* part) { return only.empty() || only == part; };
  Figures figures;
  const Subject jpeg = micrometer(cache, plan.width, 0, "jpg"), png = micrometer(cache, plan.width, 0, "png");
  std::printf("%.1f megapixels, load before the start %.2f\n", jpeg.pixels / 1e6, load_before());
  if (wanted("start")) measure_start(figures, kStartMs);
  if (wanted("memory")) {
    measure_memory(figures, jpeg, "memory, JPEG", plan.bytes_per_pixel);
    measure_memory(figures, png, "memory, PNG", plan.bytes_per_pixel);
    measure_folder_memory(figures, cache, kFolderWidth, plan.folder / 10, kFolderMemory);
  }
  if (wanted("jobs")) measure_jobs(figures, cache, kFolderWidth, plan.folder, plan.folder_runs, plan.jobs);
  if (wanted("ratio")) {
    measure_ratio(figures, jpeg, "analysis over decoding, JPEG quality 90", plan.ratio_jpeg, plan.runs);
    measure_ratio(figures, png, "analysis over decoding, PNG", plan.ratio_png, plan.runs);
  }
  return figures.missed() == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Measures speed and memory against their limits.");
  bool smoke = false;
  std::string cache = (std::filesystem::temp_directory_path() / "gradus-bench").string();
  app.add_flag("--smoke", smoke, "a small share with loose limits, for every test run");
  std::string only;
  app.add_option("--only", only, "one part: start, memory, jobs or ratio")
      ->check(CLI::IsMember({"start", "memory", "jobs", "ratio"}));
  app.add_option("--cache", cache, "folder for the rendered pictures")->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  try {
    return measure(smoke ? kSmoke : kWhole, cache, only);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "speed: %s\n", error.what());
    return 2;
  }
}
