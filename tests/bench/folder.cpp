#include "folder.h"

#include <nlohmann/json.hpp>

#include "child.h"
#include "subjects.h"

namespace bench {
namespace {

constexpr int kDifferent = 8;  // as many as folder_of() makes, in turn

Cost calibrate(const std::filesystem::path& folder, int jobs) {
  return run({GRADUS_PROGRAM, "calibrate", folder, "--division", "10um", "--json", "-", "--quiet", "--jobs",
              std::to_string(jobs)});
}

bool all_right(const Cost& cost, const std::filesystem::path& cache, int width, int count) {
  if (cost.exit_code != 0) return false;
  const auto results = nlohmann::json::parse(cost.output).at("results");
  bool right = results.size() == static_cast<std::size_t>(count);
  for (std::size_t i = 0; i < results.size() && right; ++i) {
    const Subject subject = micrometer(cache, width, static_cast<int>(i) % kDifferent, "jpg");
    right = is_right(results[i].at("um_per_pixel").at("value"), subject);
  }
  return right;
}

}  // namespace

void measure_jobs(Figures& figures, const std::filesystem::path& cache, int width, int count, int runs, double least) {
  const std::string name = std::to_string(count) + " pictures, --jobs 1 over --jobs 2";
  const auto folder = folder_of(cache, width, count);
  std::vector<double> ratios, one, two;
  for (int i = 0; i < runs; ++i) {
    const Cost single = calibrate(folder, 1), both = calibrate(folder, 2);
    figures.check_answer(name, all_right(single, cache, width, count), "with --jobs 1");
    figures.check_answer(name, single.output == both.output, "--jobs 2 gives other bytes than --jobs 1");
    one.push_back(single.seconds);
    two.push_back(both.seconds);
    ratios.push_back(single.seconds / both.seconds);
  }
  char how[96];
  std::snprintf(how, sizeof how, "%.0f ms and %.0f ms a picture", 1e3 * median(one) / count, 1e3 * median(two) / count);
  figures.add(name, median(ratios), Limit::at_least, least, how);
}

void measure_folder_memory(Figures& figures, const std::filesystem::path& cache, int width, int count, double most) {
  const Cost few = calibrate(folder_of(cache, width, count), 2);
  const Cost many = calibrate(folder_of(cache, width, 10 * count), 2);
  const std::string name = "memory for " + std::to_string(10 * count) + " over " + std::to_string(count) + " pictures";
  figures.check_answer(name, all_right(few, cache, width, count), "of the small folder");
  figures.check_answer(name, all_right(many, cache, width, 10 * count), "of the large folder");
  char how[96];
  std::snprintf(how, sizeof how, "peaks %.1f MB and %.1f MB", many.peak_bytes / 1048576.0, few.peak_bytes / 1048576.0);
  figures.add(name, many.peak_bytes / few.peak_bytes, Limit::at_most, most, how);
}

}  // namespace bench
