// Two scales in one picture, over rendered eyepieces of known truth: right, refused or wrong, class by class.
//
// Right: the ratio of the pitches within 0.2 % or three standard uncertainties of the truth. Goals: side by side 98 %,
// line ends overlapping 90 %, crossing 85 %, one over the other 80 % right, everything else refused, none wrong;
// pictures with one scale or three are refused.
//
//   eyepieces --seeds 40            all classes
//   eyepieces --class over --list   what became of each scene
#include <scale/reticle_picture.h>
#include <scale/two_rulings.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <iomanip>
#include <iostream>
#include <map>
#include <string>
#include <thread>
#include <vector>

#include "micrograph/eyepiece.h"
#include "micrograph/render.h"
#include "micrograph/truth.h"
#include "picture.h"
#include "pool.h"

namespace {

constexpr double kRight = 0.002;

struct Verdict {
  bool right = false, refused = false, identified = false, misidentified = false;
  double error = 0.0, expanded = 0.0;  // relative; U
  std::string note;
};

struct Job {
  micrograph::EyepieceClass kind;
  std::uint64_t seed;
};

// Place of the ruling that is the reticle: nearest in pitch to the truth's.
std::size_t true_reticle(const scale::Reading& two, const micrograph::Truth& truth) {
  const auto off = [&](std::size_t ruling, std::size_t axis) {
    return std::abs(std::log(two.rulings[ruling].pitch_px / truth.axes[axis].pitch_px));
  };
  return off(0, 1) + off(1, 0) <= off(1, 1) + off(0, 0) ? 0 : 1;
}

Verdict judge(const Job& job) {
  const micrograph::Scene scene = micrograph::random_eyepiece(job.kind, job.seed);
  const micrograph::Truth truth = micrograph::truth_of(scene);
  const accuracy::Picture picture(micrograph::render(scene));
  const scale::TwoRulings two = scale::find_two_rulings(picture.view());
  const std::vector<scale::Ruling>& rulings = two.reading.rulings;
  Verdict verdict;
  if (rulings.empty()) {
    verdict.refused = true;
    verdict.note = two.reading.failure->code;
    return verdict;
  }
  if (truth.axes.size() != 2) {
    verdict.note = "found two scales";
    return verdict;
  }
  const std::size_t reticle = true_reticle(two.reading, truth);
  scale::ReferenceScale ten_um;
  ten_um.division = {10.0};
  const bool finer = rulings[reticle].pitch_px <= rulings[1 - reticle].pitch_px;
  const auto found =
      scale::calibrate_reticle(two, ten_um, {100, finer ? scale::ReticleIs::finer : scale::ReticleIs::coarser});
  const double expected = 10.0 * scene.scales[1].pitch_px / scene.scales[0].pitch_px;
  verdict.error = found->um_per_division.value / expected - 1.0;
  const double u = found->um_per_division.expanded_uncertainty / found->um_per_division.coverage_factor / expected;
  verdict.expanded = found->um_per_division.expanded_uncertainty / expected;
  verdict.right = std::abs(verdict.error) <= std::max(kRight, std::min(3.0 * u, 0.02));
  const auto alone = scale::calibrate_reticle(two, ten_um, {100, scale::ReticleIs::unknown});
  verdict.identified = alone && alone->reticle == reticle;
  verdict.misidentified = alone && alone->reticle != reticle;
  if (!verdict.right) verdict.note = "error " + std::to_string(100.0 * verdict.error) + " %";
  if (verdict.misidentified) verdict.note += " taken for the other scale";
  return verdict;
}

struct Tally {
  int all = 0, right = 0, refused = 0, identified = 0, misidentified = 0;
  int inside = 0;  // of U
  std::vector<double> errors, expanded, of_expanded;
  void add(const Verdict& verdict) {
    ++all;
    right += verdict.right ? 1 : 0;
    refused += verdict.refused ? 1 : 0;
    identified += verdict.identified ? 1 : 0;
    misidentified += verdict.misidentified ? 1 : 0;
    if (!verdict.right) return;
    inside += std::abs(verdict.error) <= verdict.expanded ? 1 : 0;
    errors.push_back(std::abs(verdict.error));
    expanded.push_back(verdict.expanded);
    of_expanded.push_back(std::abs(verdict.error) / verdict.expanded);
  }
  int wrong() const { return all - right - refused; }
};

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values.empty() ? 0.0 : values[values.size() / 2];
}

// Least share of right ones, and largest share of wrong ones, of a group of classes.
struct Limits {
  double right, wrong;
};
const std::map<std::string, Limits> kGoals = {{"beside", {0.98, 0.0}},   {"ends", {0.90, 0.0}},
                                              {"crossing", {0.85, 0.0}}, {"over", {0.80, 0.0}},
                                              {"single", {0.0, 0.0}},    {"three", {0.0, 0.0}}};

std::string group_of(const std::string& name) { return name.substr(0, name.find('_')); }

void print(const std::string& name, const Tally& tally) {
  std::cout << std::left << std::setw(18) << name << std::right << std::setw(6) << tally.all << std::setw(7)
            << tally.right << std::setw(9) << tally.refused << std::setw(7) << tally.wrong() << std::setw(12)
            << tally.identified << std::setw(8) << tally.misidentified << std::setw(14) << std::setprecision(3)
            << 100.0 * median(tally.errors) << std::setw(10) << tally.inside << std::setw(13)
            << 100.0 * median(tally.expanded) << std::setw(13) << median(tally.of_expanded) << '\n';
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Accuracy of two scales in one picture");
  int seeds = 40, jobs = static_cast<int>(std::thread::hardware_concurrency());
  std::uint64_t first = 1;
  std::string only;
  bool listed = false;
  app.add_option("--seeds", seeds, "Scenes of each class")->check(CLI::PositiveNumber);
  app.add_option("--first", first, "First seed");
  app.add_option("--class", only, "Only classes whose name begins so");
  app.add_option("--jobs", jobs, "Threads")->check(CLI::PositiveNumber);
  app.add_flag("--list", listed, "Print each scene that is not right");
  CLI11_PARSE(app, argc, argv);
  std::vector<Job> work;
  for (const auto kind : micrograph::all_eyepiece_classes())
    if (micrograph::name_of(kind).starts_with(only))
      for (int i = 0; i < seeds; ++i) work.push_back({kind, first + static_cast<std::uint64_t>(i)});
  std::vector<Verdict> verdicts(work.size());
  accuracy::for_each_scene(jobs, work.size(), [&](std::size_t i) { verdicts[i] = judge(work[i]); });
  std::map<std::string, Tally> groups;
  std::cout << "class             scenes  right  refused  wrong  identified  taken for other  median error, %  inside "
               "U  median U, %  error over U\n";
  Tally of_class;
  for (std::size_t i = 0; i < work.size(); ++i) {
    const std::string name(micrograph::name_of(work[i].kind));
    of_class.add(verdicts[i]);
    groups[group_of(name)].add(verdicts[i]);
    if (listed && (!verdicts[i].note.empty()))
      std::cout << "  " << name << ' ' << work[i].seed << ": " << verdicts[i].note << '\n';
    if (i + 1 == work.size() || work[i + 1].kind != work[i].kind) {
      print(name, of_class);
      of_class = {};
    }
  }
  std::cout << "By group; the median of a normal error over its U is 0.34:\n";
  for (const auto& [name, tally] : groups) print(name, tally);
  bool good = true;
  for (const auto& [name, tally] : groups) {
    const Limits limits = kGoals.at(name);
    const double right = static_cast<double>(tally.right) / tally.all,
                 wrong = static_cast<double>(tally.wrong()) / tally.all;
    const bool kept = right >= limits.right && wrong <= limits.wrong && tally.misidentified == 0;
    good = good && kept;
    std::cout << (kept ? "kept    " : "MISSED  ") << name << ": " << 100.0 * right << " % right ("
              << 100.0 * limits.right << " % asked), " << 100.0 * wrong << " % wrong (" << 100.0 * limits.wrong
              << " % allowed), " << tally.misidentified << " taken for the other scale\n";
  }
  return good ? 0 : 1;
}
