// accuracy: renders scenes of every class, lets the engine read them and counts what is right.
//
//   accuracy --seeds 40 --no-scale-seeds 75          the whole suite
//   accuracy --classes relief,cloth --list-failures  some classes, with or without a scale
//
// Exit: 0 all limits kept, 1 a limit missed, 2 bad usage.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <string>
#include <thread>
#include <vector>

#include "command_line.h"
#include "judge.h"
#include "micrograph/classes.h"
#include "pool.h"
#include "tally.h"

namespace {

using accuracy::Tally;
using accuracy::Verdict;

struct Wish {
  int seeds = 40;
  int no_scale_seeds = 75;
  std::uint64_t from = 1;
  std::vector<std::string> classes;
  int jobs = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  bool list_failures = false;
  bool share = false;
};

bool wanted(const Wish& wish, std::string_view name) {
  return wish.classes.empty() || std::find(wish.classes.begin(), wish.classes.end(), name) != wish.classes.end();
}

template <class Judge>
std::vector<Verdict> judge_all(const Wish& wish, int seeds, const Judge& judge_seed) {
  std::vector<Verdict> verdicts(static_cast<std::size_t>(seeds));
  accuracy::for_each_scene(wish.jobs, verdicts.size(), [&](std::size_t i) { verdicts[i] = judge_seed(wish.from + i); });
  return verdicts;
}

const char* short_word(const Verdict& v, bool has_scale) {
  if (v.threw) return "THREW  ";
  if (!has_scale) return "ACCEPTED";
  if (v.gross) return "GROSS  ";
  if (is_wrong(v)) return "wrong  ";
  return v.calibrated ? "right  " : "refused";
}

void print_class(const Wish& wish, std::string_view name, const std::vector<Verdict>& verdicts, bool has_scale,
                 Tally& total) {
  Tally tally;
  for (const Verdict& verdict : verdicts) tally.add(verdict);
  std::printf("%s\n", tally_row(std::string(name), tally).c_str());
  for (const Verdict& v : verdicts) {
    const bool failed = v.threw || (has_scale ? is_wrong(v) || (v.fair && !v.right) : v.calibrated);
    if (wish.list_failures && failed) {
      std::printf("    %s --%s %s --seed %llu: %s\n", short_word(v, has_scale), has_scale ? "class" : "no-scale",
                  std::string(name).c_str(), static_cast<unsigned long long>(v.seed), v.what.c_str());
    }
  }
  std::fflush(stdout);
  total.add(tally);
}

Tally run_scenes(const Wish& wish) {
  Tally total;
  for (const micrograph::SceneClass scene_class : micrograph::all_scene_classes()) {
    const std::string_view name = micrograph::name_of(scene_class);
    if (!wanted(wish, name)) continue;
    print_class(
        wish, name,
        judge_all(wish, wish.seeds,
                  [&](std::uint64_t seed) { return accuracy::judge(micrograph::random_scene(scene_class, seed)); }),
        true, total);
  }
  return total;
}

Tally run_no_scale(const Wish& wish) {
  Tally total;
  for (const micrograph::NoScale kind : micrograph::all_no_scale()) {
    const std::string_view name = micrograph::name_of(kind);
    if (!wanted(wish, name)) continue;
    print_class(wish, name,
                judge_all(wish, wish.no_scale_seeds,
                          [&](std::uint64_t seed) {
                            return accuracy::judge_no_scale(micrograph::random_no_scale(kind, seed));
                          }),
                false, total);
  }
  return total;
}

bool known(const std::string& name) { return micrograph::scene_class_named(name) || micrograph::no_scale_named(name); }

}  // namespace

int main(int argc, char** argv) {
  Wish wish;
  CLI::App app("Reads rendered scenes of known truth and counts what is right, wrong and refused");
  app.add_option("--seeds", wish.seeds, "scenes of each class")->check(CLI::Range(0, 1000000))->capture_default_str();
  app.add_option("--no-scale-seeds", wish.no_scale_seeds, "pictures of each kind without a scale")
      ->check(CLI::Range(0, 1000000))
      ->capture_default_str();
  app.add_option("--from", wish.from, "first seed")->capture_default_str();
  app.add_option("--classes", wish.classes, "only these, by name, with or without a scale")->delimiter(',');
  app.add_option("--jobs", wish.jobs, "threads in all")->check(CLI::Range(1, 1024))->capture_default_str();
  app.add_flag("--list-failures", wish.list_failures, "what came out and what is true, for each failure");
  app.add_flag("--share", wish.share, "widen the rates' limits by what chance does to a small sample");
  if (const auto exit_code = accuracy::parse(app, argc, argv, wish.classes, known)) return *exit_code;
  std::printf("%s\n", accuracy::tally_heading().c_str());
  const Tally scenes = run_scenes(wish);
  const Tally without_scale = run_no_scale(wish);
  if (scenes.scenes > 0) std::printf("%s\n", tally_row("all scenes", scenes).c_str());
  if (without_scale.scenes > 0) std::printf("%s\n", tally_row("all without a scale", without_scale).c_str());
  return print_limits(scenes, without_scale, wish.share) ? 0 : 1;
}
