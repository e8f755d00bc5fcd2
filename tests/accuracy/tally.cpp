#include "tally.h"

#include <algorithm>
#include <cstdio>

#include "allowance.h"

namespace accuracy {
namespace {

// What a run is held to.
constexpr double kMostNotRight = 0.01, kMostWrong = 0.002;  // of fair scenes
constexpr double kMostGross = 0.0, kMostAccepted = 0.0;
constexpr double kLeastCovered = 0.93, kMostCovered = 0.975;
constexpr double kDirectionDeg = 0.005;
constexpr double kDirectionOutside = 0.10;

double share_of(std::size_t part, std::size_t whole) {
  return whole > 0 ? static_cast<double>(part) / static_cast<double>(whole) : 0.0;
}

double direction_p90(std::vector<double> errors) {
  if (errors.empty()) return 0.0;
  const std::size_t rank = std::min(errors.size() - 1, (errors.size() * 9) / 10);
  std::nth_element(errors.begin(), errors.begin() + static_cast<std::ptrdiff_t>(rank), errors.end());
  return errors[rank];
}

bool line(const char* what, double reached, const char* relation, double limit, bool kept) {
  std::printf("  %-66s %9.6g %s %-9.6g %s\n", what, reached, relation, limit, kept ? "kept" : "MISSED");
  return kept;
}

bool at_most(const char* what, std::size_t count, double limit) {
  const double reached = static_cast<double>(count);
  return line(what, reached, "<=", limit, reached <= limit);
}

bool at_least(const char* what, std::size_t count, double limit) {
  const double reached = static_cast<double>(count);
  return line(what, reached, ">=", limit, reached >= limit);
}

}  // namespace

void Tally::add(const Verdict& verdict) {
  ++scenes;
  right += verdict.right;
  wrong += is_wrong(verdict);
  refused += !verdict.calibrated;
  low_confidence += verdict.low_confidence;
  gross += verdict.gross;
  threw += verdict.threw;
  few_wrong += verdict.lines < 5 && is_wrong(verdict) && !verdict.low_confidence;
  hidden += verdict.hidden;
  hidden_right += verdict.hidden && verdict.right;
  if (!verdict.fair) return;
  ++fair;
  fair_right += verdict.right;
  fair_wrong += is_wrong(verdict);
  if (verdict.distorted) return;
  for (const AxisError& axis : verdict.axes) {
    ++axes;
    inside += axis.inside;
    if (axis.matched) direction_errors_deg.push_back(axis.direction_deg);
  }
}

void Tally::add(const Tally& other) {
  scenes += other.scenes;
  right += other.right;
  wrong += other.wrong;
  refused += other.refused;
  low_confidence += other.low_confidence;
  gross += other.gross;
  threw += other.threw;
  few_wrong += other.few_wrong;
  hidden += other.hidden;
  hidden_right += other.hidden_right;
  fair += other.fair;
  fair_right += other.fair_right;
  fair_wrong += other.fair_wrong;
  axes += other.axes;
  inside += other.inside;
  direction_errors_deg.insert(direction_errors_deg.end(), other.direction_errors_deg.begin(),
                              other.direction_errors_deg.end());
}

std::string tally_heading() {
  return "class                       scenes right wrong refused  low gross | fair right wrong | axes coverage "
         "direction p90, deg";
}

std::string tally_row(const std::string& name, const Tally& t) {
  char text[200];
  std::snprintf(text, sizeof text, "%-27s %6zu %5zu %5zu %7zu %4zu %5zu | %4zu %5zu %5zu | %4zu %8.4f %10.5f",
                name.c_str(), t.scenes, t.right, t.wrong, t.refused, t.low_confidence, t.gross, t.fair, t.fair_right,
                t.fair_wrong, t.axes, share_of(t.inside, t.axes), direction_p90(t.direction_errors_deg));
  return text;
}

bool print_limits(const Tally& scenes, const Tally& without_scale, bool share) {
  std::printf("\nlimits%s\n", share ? ", rates widened by what chance does to a sample of this size" : "");
  const std::size_t far =
      static_cast<std::size_t>(std::count_if(scenes.direction_errors_deg.begin(), scenes.direction_errors_deg.end(),
                                             [](double error) { return error > kDirectionDeg; }));
  bool kept = true;
  if (scenes.scenes > 0) {
    std::printf("  fair but for a division that blur leaves no trace of: %zu, right %zu\n", scenes.hidden,
                scenes.hidden_right);
    kept &= at_most("fair scenes not right", scenes.fair - scenes.fair_right,
                    most_allowed(scenes.fair, kMostNotRight, share));
    kept &= at_most("fair scenes wrong", scenes.fair_wrong, most_allowed(scenes.fair, kMostWrong, share));
    kept &= at_most("scenes off by more than 1 %", scenes.gross, most_allowed(scenes.scenes, kMostGross, share));
    kept &= at_most("three or four graduations, wrong, confidence not said to be low", scenes.few_wrong, 0.0);
    kept &= at_least("errors inside t times the claimed uncertainty, at least", scenes.inside,
                     least_allowed(scenes.axes, kLeastCovered, share));
    kept &= at_most("the same, at most", scenes.inside, most_allowed(scenes.axes, kMostCovered, share));
    kept &= at_most("directions off by more than 0.005 deg (10 %)", far,
                    most_allowed(scenes.direction_errors_deg.size(), kDirectionOutside, share));
  }
  if (without_scale.scenes > 0) {
    kept &= at_most("pictures without a scale accepted", without_scale.scenes - without_scale.refused,
                    most_allowed(without_scale.scenes, kMostAccepted, share));
  }
  kept &= at_most("pictures at which the engine threw", scenes.threw + without_scale.threw, 0.0);
  return kept;
}

}  // namespace accuracy
