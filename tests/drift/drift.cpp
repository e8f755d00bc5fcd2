// Do checks find what changed, and accuse nothing that did not?
//
//   drift --rooms 100 --seeds 20      the figures of docs/performance.md
#include <oneapi/tbb/parallel_for.h>
#include <scale/control_chart.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <iostream>
#include <random>
#include <span>
#include <vector>

#include "drift/folders.h"
#include "drift/shots.h"

namespace {

constexpr double kChange = 5.3;  // combined standard uncertainties
constexpr double kLeastFound = 0.99, kMostAccused = 0.004;
constexpr int kChecks = 10;
constexpr double kMostSeconds = 20.0;                   // for 10 000 images
constexpr std::size_t kHalfBy = 14, kNearlyAllBy = 19;  // shots

// Three standard deviations of a count of so few about the share that is asked.
double doubt(double share, int count) { return 3.0 * std::sqrt(share * (1.0 - share) / std::max(1, count)); }

bool check_shots(int rooms, std::uint64_t seed) {
  std::vector<drift_test::ShotCounts> list(static_cast<std::size_t>(rooms));
  tbb::parallel_for(std::size_t{0}, list.size(),
                    [&](std::size_t i) { list[i] = drift_test::check_shots(seed + i, kChecks, kChange); });
  drift_test::ShotCounts sum;
  for (const auto& counts : list) sum += counts;
  const double found = static_cast<double>(sum.found) / std::max(1, sum.changed);
  const double accused = static_cast<double>(sum.accused) / std::max(1, sum.unchanged);
  std::cout << "changed by " << kChange << " u: drifted " << sum.found << " of " << sum.changed << " (" << 100.0 * found
            << " %); unchanged: drifted " << sum.accused << " of " << sum.unchanged << " (" << 100.0 * accused
            << " %); change over u has " << std::sqrt(sum.squares / std::max(1, sum.unchanged)) << " rms; " << sum.lost
            << " without a scale; charts by the budget with an alert " << sum.alerts << " of " << rooms << '\n';
  return sum.lost * 50 < sum.unchanged && found >= kLeastFound - doubt(kLeastFound, sum.changed) &&
         accused <= kMostAccused + doubt(kMostAccused, sum.unchanged);
}

// A change that grows by 0.1 standard uncertainty a shot, over noise of one; `common` of it is the calibration's own
// error, the same under all shots of a run. `kept`: whether the goals hold, which are those of a factor that is exact.
bool ramps(double common, bool kept) {
  constexpr int kRuns = 4000;
  std::mt19937_64 bits(7);
  std::normal_distribution<double> normal;
  std::vector<std::size_t> shots;
  for (int run = 0; run < kRuns; ++run) {
    std::vector<double> values(100);
    const double offset = common * normal(bits), own = std::sqrt(1.0 - common * common);
    for (std::size_t i = 0; i < values.size(); ++i)
      values[i] = offset + own * normal(bits) + 0.1 * static_cast<double>(i + 1);
    const scale::ControlChart chart = scale::control_chart(values, {0.0, 1.0, common});
    shots.push_back(std::min(chart.first_ewma.value_or(99), chart.first_cusum.value_or(99)) + 1);
  }
  std::sort(shots.begin(), shots.end());
  const std::size_t half = shots[kRuns / 2], nearly_all = shots[kRuns * 95 / 100];
  std::cout << "a ramp of 0.1 u a shot, " << common << " of u the calibration's: alert in half the runs by shot "
            << half << ", in 95 % by shot " << nearly_all << '\n';
  return !kept || (half <= kHalfBy && nearly_all <= kNearlyAllBy);
}

// The same after a base period of so many shots, from which alone centre and scatter are known; and the shares of years
// of 52 shots with alerts where nothing changes.
void ramps_after_base(std::size_t period) {
  constexpr int kRuns = 4000;
  constexpr std::size_t kYear = 52;
  std::mt19937_64 bits(11);
  std::normal_distribution<double> normal;
  std::vector<std::size_t> shots;
  int alerts = 0, years_beyond = 0, beyond = 0, dated = 0;
  for (int run = 0; run < 2 * kRuns; ++run) {
    const double ramp = run < kRuns ? 0.1 : 0.0;
    std::vector<double> values(period + kYear);
    for (std::size_t i = 0; i < values.size(); ++i)
      values[i] = normal(bits) + (i >= period ? ramp * static_cast<double>(i - period + 1) : 0.0);
    const scale::ControlChart chart = scale::control_chart(values, *scale::base_of(std::span(values).first(period)));
    const std::size_t first = std::min(chart.first_ewma.value_or(999), chart.first_cusum.value_or(999));
    if (run < kRuns) {
      shots.push_back(first + 1 - period);
      continue;
    }
    alerts += first < values.size(), years_beyond += chart.first_beyond.has_value();
    dated += scale::change_point(values, chart.base).kind != scale::ChangeKind::none;
    for (std::size_t i = period; i < values.size(); ++i) beyond += chart.beyond(i);
  }
  std::sort(shots.begin(), shots.end());
  std::cout << "the same after a base period of " << period << ": by shot " << shots[kRuns / 2] << ", "
            << shots[kRuns * 95 / 100] << "; unchanged years with an alert " << 100.0 * alerts / kRuns
            << " %, with a single shot beyond its limits " << 100.0 * years_beyond / kRuns << " % (of shots "
            << 100.0 * beyond / (kRuns * static_cast<double>(kYear)) << " %), with a change dated "
            << 100.0 * dated / kRuns << " %\n";
}

bool folders(int seeds, std::uint64_t seed) {
  bool whole = true;
  int wrong = 0, found = 0, good = 0, accused = 0, silent = 0, unverifiable = 0;
  for (int i = 0; i < seeds; ++i) {
    const drift_test::FolderCounts counts = drift_test::check_folder(seed + static_cast<std::uint64_t>(i));
    wrong += counts.wrong, found += counts.wrong_found, good += counts.good, accused += counts.accused;
    silent += counts.silent, unverifiable += counts.silent_unverifiable;
    whole = whole && counts.failures.empty();
    for (const std::string& failure : counts.failures)
      std::cout << "seed " << seed + static_cast<std::uint64_t>(i) << ": " << failure << '\n';
  }
  std::cout << seeds << " folders: " << found << " of " << wrong << " wrong images found, " << accused << " of " << good
            << " good ones accused, " << unverifiable << " of " << silent << " silent ones unverifiable\n";
  return wrong > 0 && good > 0 && found == wrong && accused == 0 && unverifiable == silent && whole;
}

bool tags(int images) {
  const double seconds = drift_test::check_tags(images);
  std::cout << images << " images by what the files say alone: " << seconds << " s\n";
  return seconds > 0.0 && seconds * 10000 < kMostSeconds * images;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Whether checks find what changed and accuse nothing that did not");
  int rooms = 100, seeds = 20;
  std::uint64_t seed = 1;
  app.add_option("--rooms", rooms, "Rooms of rendered check shots");
  app.add_option("--seeds", seeds, "Mixed folders");
  app.add_option("--seed", seed, "Of the first");
  int images = 10000;
  app.add_option("--images", images, "By their tags alone");
  CLI11_PARSE(app, argc, argv);
  const bool shots_good = rooms == 0 || check_shots(rooms, seed);
  const bool ramps_good = ramps(0.0, true);
  for (const double common : {0.2, 0.5}) ramps(common, false);
  for (const std::size_t period : {10, 20, 50}) ramps_after_base(period);
  const bool folders_good = seeds == 0 || folders(seeds, seed);
  const bool tags_good = images == 0 || tags(images);
  if (!tags_good) std::cout << "FAILED: time of tags\n";
  if (!shots_good) std::cout << "FAILED: check shots\n";
  if (!ramps_good) std::cout << "FAILED: ramps\n";
  if (!folders_good) std::cout << "FAILED: folders\n";
  return shots_good && ramps_good && folders_good && tags_good ? 0 : 1;
}
