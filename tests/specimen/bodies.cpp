// bodies: renders specimens by class and says what was found of them and how well.
#include <tbb/parallel_for.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "compare.h"
#include "coverage.h"

namespace {

using micrograph::SpecimenClass;

struct Tally {
  int drawn = 0, found = 0, missed = 0, doubled = 0, foreign = 0;
  std::vector<double> width, area;  // errors

  void add(const specimen_test::Comparison& comparison) {
    drawn += static_cast<int>(comparison.pairs.size() + comparison.missed.size());
    found += static_cast<int>(comparison.pairs.size());
    missed += static_cast<int>(comparison.missed.size());
    doubled += static_cast<int>(comparison.doubled.size());
    foreign += static_cast<int>(comparison.foreign.size());
    for (const auto& pair : comparison.pairs) {
      if (pair.truth.fibre || !pair.truth.at_border) width.push_back(pair.width_error_px);
      if (!pair.truth.fibre && !pair.truth.at_border) area.push_back(pair.area_error);
    }
  }
};

struct Spread {
  double mean = 0.0, sd = 0.0, most = 0.0;
};

Spread spread_of(const std::vector<double>& values) {
  Spread spread;
  for (const double value : values) {
    spread.mean += value / static_cast<double>(values.size());
    spread.most = std::max(spread.most, std::abs(value));
  }
  for (const double value : values) spread.sd += std::pow(value - spread.mean, 2);
  spread.sd = values.size() > 1 ? std::sqrt(spread.sd / static_cast<double>(values.size() - 1)) : 0.0;
  return spread;
}

void list_failures(const std::string& name, std::uint64_t seed, const specimen_test::Comparison& comparison) {
  const auto tell = [&](const char* what, double x, double y, double width) {
    std::printf("  %s %llu: %s at (%.0f, %.0f), width %.1f\n", name.c_str(), static_cast<unsigned long long>(seed),
                what, x, y, width);
  };
  for (const auto& truth : comparison.missed) tell("missed", truth.x, truth.y, truth.width_px);
  for (const auto& body : comparison.doubled) tell("doubled", body.at.x, body.at.y, 0.0);
  for (const auto& body : comparison.foreign) tell("foreign", body.at.x, body.at.y, 0.0);
  for (const auto& pair : comparison.pairs)
    if ((pair.truth.fibre || !pair.truth.at_border) && std::abs(pair.width_error_px) > 0.3)
      tell(("off by " + std::to_string(pair.width_error_px)).c_str(), pair.truth.x, pair.truth.y, pair.truth.width_px);
  if (comparison.reading.failure) std::printf("  %s: %s\n", name.c_str(), comparison.reading.failure->message.c_str());
}

scale::SpecimenOptions options_for(SpecimenClass specimen) {
  scale::SpecimenOptions options;
  options.part = specimen == SpecimenClass::touching_grains;
  return options;
}

// What must be reached, by class; pixels, and shares of the area.
struct Goal {
  double found = 1.0;            // share
  double bias = 0.05, sd = 0.1;  // of the width
  double area = 0.0;             // mean and SD of the area's error; 0: not asked
  bool once = true;              // no body may be measured in two pieces
  bool own = true;               // no row may be on no body
};

Goal goal_of(SpecimenClass specimen) {
  switch (specimen) {
    case SpecimenClass::fibre_mat:
      return {0.97, 0.05, 0.1, 0.0};
    case SpecimenClass::rimmed_fibres:
      return {0.97, 0.3, 0.3, 0.0};
    case SpecimenClass::rimmed_mat:
      return {0.9, 0.3, 0.3, 0.0};  // 97 % is the goal of solid ones; thin transparent ones end in each other
    case SpecimenClass::grains:
    case SpecimenClass::bright_grains:
      return {1.0, 0.1, 0.1, 0.003};
    case SpecimenClass::rimmed_grains:
      return {0.97, 0.3, 0.3, 0.02};
    case SpecimenClass::angular_grains:
      return {1.0, 1.0, 1.0, 0.005};  // blur rounds corners: the least breadth from side to corner is too small
    case SpecimenClass::touching_grains:
      return {0.97, 4.0, 2.0, 0.05};  // what the neck hides is missing
    default:
      return {1.0, 0.05, 0.1, 0.0};
  }
}

std::string missed_goal(const Tally& tally, const Goal& goal, const Spread& width, const Spread& area) {
  if (tally.found < goal.found * tally.drawn) return "too few found";
  if (tally.doubled > 0 && goal.once) return "measured twice";
  if (tally.foreign > 0 && goal.own) return "a row on no body";
  if (std::abs(width.mean) > goal.bias || width.sd > goal.sd) return "width";
  if (goal.area > 0.0 && (std::abs(area.mean) > goal.area || area.sd > goal.area)) return "area";
  return "";
}

bool run(SpecimenClass specimen, int seeds, std::uint64_t first, bool list) {
  std::vector<specimen_test::Comparison> comparisons(static_cast<std::size_t>(seeds));
  tbb::parallel_for(0, seeds, [&](int i) {
    comparisons[static_cast<std::size_t>(i)] = specimen_test::compare(
        micrograph::random_specimen(specimen, first + static_cast<std::uint64_t>(i)), options_for(specimen));
  });
  Tally tally;
  const std::string name(micrograph::name_of(specimen));
  for (int i = 0; i < seeds; ++i) {
    tally.add(comparisons[static_cast<std::size_t>(i)]);
    if (list) list_failures(name, first + static_cast<std::uint64_t>(i), comparisons[static_cast<std::size_t>(i)]);
  }
  const Spread width = spread_of(tally.width), area = spread_of(tally.area);
  std::printf("%-16s %5d drawn, %5.1f %% found, %d doubled, %d foreign; width %+.3f +- %.3f px, at most %.2f",
              name.c_str(), tally.drawn, 100.0 * tally.found / std::max(1, tally.drawn), tally.doubled, tally.foreign,
              width.mean, width.sd, width.most);
  if (!tally.area.empty()) std::printf("; area %+.3f +- %.3f %%", 100.0 * area.mean, 100.0 * area.sd);
  const std::string missed = missed_goal(tally, goal_of(specimen), width, area);
  std::printf("%s\n", missed.empty() ? "" : (" MISSED: " + missed).c_str());
  return missed.empty();
}

bool tell(const char* what, const specimen_test::Coverage& coverage) {
  const double share = static_cast<double>(coverage.covered) / coverage.drawn;
  // The goal is 93 to 98 %; a short run may miss it by two standard deviations of a binomial of 0.95.
  const double chance = 2.0 * std::sqrt(0.95 * 0.05 / coverage.drawn);
  const bool held = share > 0.93 - chance && share < 0.98 + chance;
  std::printf("U of %s: %d of %d covered (%.1f %%), median of error over U %.2f%s\n", what, coverage.covered,
              coverage.drawn, 100.0 * share, coverage.median_ratio, held ? "" : " MISSED");
  return held;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Fibres and grains of rendered specimens against their truth; exit 1 when a goal is missed.");
  int seeds = 20, coverage = 0;
  std::uint64_t first = 1;
  std::string wanted;
  bool list = false;
  app.add_option("--seeds", seeds, "pictures a class");
  app.add_option("--first", first, "first seed");
  app.add_option("--class", wanted, "this class alone; none: only the coverage");
  app.add_option("--coverage", coverage, "fibres and grains whose U is held against their error");
  app.add_flag("--list-failures", list, "name what went wrong");
  CLI11_PARSE(app, argc, argv);
  if (!wanted.empty() && wanted != "none" && !micrograph::specimen_class_named(wanted)) {
    std::fprintf(stderr, "bodies: there is no class '%s'; none leaves them all out\n", wanted.c_str());
    return 2;
  }
  bool good = true;
  for (const SpecimenClass specimen : micrograph::all_specimen_classes())
    if (wanted.empty() || wanted == micrograph::name_of(specimen)) good = run(specimen, seeds, first, list) && good;
  if (coverage > 0) {
    good = tell("widths of fibres", specimen_test::coverage_of_fibres(coverage, first)) && good;
    good = tell("areas of grains", specimen_test::coverage_of_grains(coverage, first)) && good;
  }
  return good ? 0 : 1;
}
