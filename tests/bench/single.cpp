#include "single.h"

#include <gradus/keep_memory.h>
#include <images/read_image.h>
#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/task_arena.h>
#include <scale/ruling.h>

#include <chrono>
#include <ctime>
#include <nlohmann/json.hpp>
#include <opencv2/core/utility.hpp>
#include <stdexcept>

#include "child.h"

namespace bench {
namespace {

constexpr int kThreads = 2;
constexpr int kStarts = 21;

double seconds_since(std::chrono::steady_clock::time_point start) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

double processor_seconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

std::string milliseconds(double seconds) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f ms", 1e3 * seconds);
  return text;
}

}  // namespace

void measure_memory(Figures& figures, const Subject& subject, const std::string& name, double most) {
  const Cost cost = run({GRADUS_PROGRAM, "calibrate", subject.picture, "--division", "10um", "--json", "-", "--jobs",
                         std::to_string(kThreads)});
  const auto result = nlohmann::json::parse(cost.output).at("results").at(0);
  const bool calibrated = result.at("status") == "calibrated";
  figures.check_answer(name, calibrated && is_right(result.at("um_per_pixel").at("value"), subject), result.dump());
  if (own_peak_bytes() > kMemoryBase) throw std::runtime_error("the bench itself is too large to measure memory");
  figures.add(
      name, (cost.peak_bytes - kMemoryBase) / subject.pixels, Limit::at_most, most,
      "bytes a pixel beyond 64 MB; peak " + std::to_string(static_cast<int>(cost.peak_bytes / 1048576.0)) + " MB");
}

void measure_ratio(Figures& figures, const Subject& subject, const std::string& name, double most, int runs) {
  const oneapi::tbb::global_control threads(oneapi::tbb::global_control::max_allowed_parallelism, kThreads);
  cv::setNumThreads(1);  // this and the next as the program does
  gradus::keep_memory();
  oneapi::tbb::task_arena arena(kThreads);
  std::vector<double> decoding, analysis, processor, ratios;
  for (int i = 0; i < runs; ++i) {
    const auto start = std::chrono::steady_clock::now();
    const auto picture = images::read_image(subject.picture);
    if (!picture) throw std::runtime_error(picture.error().message);
    decoding.push_back(seconds_since(start));
    const auto read = std::chrono::steady_clock::now();
    const double used = processor_seconds();
    const scale::Reading reading = arena.execute([&] { return scale::find_rulings(picture->view()); });
    analysis.push_back(seconds_since(read));
    processor.push_back(processor_seconds() - used);
    ratios.push_back(analysis.back() / decoding.back());
    const bool found = reading.rulings.size() == 1;
    figures.check_answer(name, found && is_right(10.0 / reading.rulings.front().pitch_px, subject),
                         found ? "pitch " + std::to_string(reading.rulings.front().pitch_px) : "no single ruling");
  }
  figures.add(name, median(ratios), Limit::at_most, most,
              "analysis " + milliseconds(median(analysis)) + " (" + milliseconds(median(processor)) +
                  " of processor), decoding " + milliseconds(median(decoding)));
}

void measure_start(Figures& figures, double most_ms) {
  std::vector<double> times;
  for (int i = 0; i < kStarts; ++i) {
    const Cost cost = run({GRADUS_PROGRAM, "--version"});
    figures.check_answer("gradus --version", cost.exit_code == 0 && cost.output.starts_with("gradus "), cost.output);
    times.push_back(1e3 * cost.seconds);
  }
  figures.add("gradus --version", median(times), Limit::at_most, most_ms,
              "ms, median of " + std::to_string(kStarts) + " starts");
}

}  // namespace bench
