// efficiency: errors of the pitch against the Cramer-Rao bound.
//
//   efficiency                      250 scenes of each tidy class, 1000 exposures of each fixed scene
//   efficiency --classes tidy --repeats 0
//
// Exit: 0 all limits kept, 1 a limit missed, 2 bad usage.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <thread>
#include <vector>

#include "command_line.h"
#include "cramer_rao.h"
#include "errors.h"
#include "fixed_scene.h"
#include "micrograph/classes.h"
#include "micrograph/render.h"
#include "picture.h"
#include "pool.h"

namespace {

using accuracy::BoundedError;
using accuracy::ErrorSummary;
using micrograph::SceneClass;

constexpr double kFixedPitches[] = {8.0, 20.0, 60.0};
constexpr double kFarOff = 5.0;  // bounds; a normal error is beyond once in two million

struct Wish {
  int seeds = 250;
  int repeats = 1000;
  std::uint64_t from = 1;
  std::vector<std::string> classes = {"tidy", "tidy_small_pitch", "any_angle", "partial_view"};
  int jobs = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  bool list_failures = false;
  bool share = false;
};

BoundedError read_scene(const micrograph::Scene& scene) {
  const scale::Reading reading = scale::find_rulings(accuracy::Picture(micrograph::render(scene)).view());
  const micrograph::Truth truth = micrograph::truth_of(scene);
  return accuracy::bounded_error(reading, truth, accuracy::relative_pitch_bound(scene, truth));
}

void print_row(const std::string& name, const ErrorSummary& s) {
  const double n = static_cast<double>(std::max<std::size_t>(1, s.found));
  std::printf("%-22s %5zu %5zu %8.3f %8.3f %+8.3f %8.3f %8.3f %9.3f  %s\n", name.c_str(), s.readings, s.found,
              s.robust_scatter, static_cast<double>(s.within) / n, s.mean,
              s.mean_square > 0.0 ? 1.0 / s.mean_square : 0.0, static_cast<double>(s.inside) / n, s.largest,
              s.largest_in.c_str());
  std::fflush(stdout);
}

void print_failures(const std::vector<BoundedError>& errors) {
  for (const BoundedError& error : errors) {
    if (!error.found) {
      std::printf("    true ruling not found: %s\n", error.scene.c_str());
    } else if (std::abs(error.in_bounds) > kFarOff) {
      std::printf("    off by %+.1f bounds: %s\n", error.in_bounds, error.scene.c_str());
    }
  }
}

std::vector<BoundedError> read_class(const Wish& wish, SceneClass scene_class) {
  std::vector<BoundedError> errors(static_cast<std::size_t>(wish.seeds));
  accuracy::for_each_scene(wish.jobs, errors.size(), [&](std::size_t i) {
    errors[i] = read_scene(micrograph::random_scene(scene_class, wish.from + i));
  });
  return errors;
}

bool run_classes(const Wish& wish) {
  std::vector<BoundedError> all;
  for (const std::string& name : wish.classes) {
    const std::vector<BoundedError> errors = read_class(wish, *micrograph::scene_class_named(name));
    print_row(name, accuracy::summarise(errors));
    if (wish.list_failures) print_failures(errors);
    all.insert(all.end(), errors.begin(), errors.end());
  }
  const ErrorSummary summary = accuracy::summarise(all);
  print_row("all tidy scenes", summary);
  return accuracy::keeps_scene_limits(summary, wish.share);
}

bool run_fixed(const Wish& wish, double pitch_px) {
  const micrograph::Scene scene = accuracy::fixed_scene(pitch_px);
  const micrograph::Truth truth = micrograph::truth_of(scene);
  const double bound = accuracy::relative_pitch_bound(scene, truth);
  const accuracy::FixedScene fixed(scene);
  const accuracy::BestEstimator best(scene, truth);
  std::vector<BoundedError> errors(static_cast<std::size_t>(wish.repeats));
  std::vector<double> best_errors(errors.size());
  accuracy::for_each_scene(wish.jobs, errors.size(), [&](std::size_t i) {
    const micrograph::Image exposure = fixed.with_noise(wish.from + i);
    best_errors[i] = best.error_in_bounds(exposure);
    errors[i] = accuracy::bounded_error(scale::find_rulings(accuracy::Picture(exposure).view()), truth, bound);
    errors[i].scene = "noise " + std::to_string(wish.from + i);
  });
  const ErrorSummary summary = accuracy::summarise(errors);
  double best_square = 0.0;
  for (const double error : best_errors) best_square += error * error / static_cast<double>(best_errors.size());
  char name[60];
  std::snprintf(name, sizeof name, "fixed, pitch %g px", pitch_px);
  print_row(name, summary);
  std::printf("    bound %.3g px, relative %.3g\n", bound * truth.axes.front().pitch_px, bound);
  std::printf("    mean square of the best estimator, same exposures %.3f\n", best_square);
  return accuracy::keeps_fixed_limits(summary, best_square, wish.share);
}

bool known(const std::string& name) { return micrograph::scene_class_named(name).has_value(); }

}  // namespace

int main(int argc, char** argv) {
  Wish wish;
  CLI::App app("Measures how near the engine comes to the Cramer-Rao bound of the pitch");
  app.add_option("--seeds", wish.seeds, "scenes of each class")->check(CLI::Range(0, 1000000))->capture_default_str();
  app.add_option("--repeats", wish.repeats, "exposures of each fixed scene")
      ->check(CLI::Range(0, 1000000))
      ->capture_default_str();
  app.add_option("--from", wish.from, "first seed")->capture_default_str();
  app.add_option("--classes", wish.classes, "classes of scenes")->delimiter(',')->capture_default_str();
  app.add_option("--jobs", wish.jobs, "threads in all")->check(CLI::Range(1, 1024))->capture_default_str();
  app.add_flag("--list-failures", wish.list_failures, "scenes not found or off by more than 5 bounds");
  app.add_flag("--share", wish.share, "widen the limits by what chance does to a small sample");
  if (const auto exit_code = accuracy::parse(app, argc, argv, wish.classes, known)) return *exit_code;
  std::printf("scenes                 reads found  scatter within2.5   mean efficiency coverage  largest  in\n");
  bool kept = wish.seeds == 0 || run_classes(wish);
  for (const double pitch_px : kFixedPitches) kept &= wish.repeats == 0 || run_fixed(wish, pitch_px);
  return kept ? 0 : 1;
}
