#include <algorithm>

#include "report/charts.h"

namespace scale::report {

std::string histogram(const MeasuredSizes& sizes, const std::string& id, NumberStyle style) {
  const std::vector<SizeClass>& classes = sizes.distribution.classes;
  double most = 0.0;
  for (const SizeClass& one : classes) most = std::max({most, one.share, one.amount_share});
  const SizeDistribution& found = sizes.distribution;
  Axis x = number_axis(sizes.quantity + " / µm", classes.front().low, classes.back().high, 10, style);
  Chart chart({id, "Distribution of " + sizes.quantity,
               std::to_string(found.count) + " bodies in " + std::to_string(classes.size()) + " classes from " +
                   significant(classes.front().low, 3, style) + " to " + significant(classes.back().high, 3, style) +
                   " µm; mean " + significant(found.mean, 4, style) + " µm, median " +
                   significant(found.median, 4, style) + " µm."},
              230, std::move(x), number_axis("share / %", 0.0, 105.0 * most, 5, style, true));
  for (const SizeClass& one : classes) chart.box(one.low, one.high, 0.0, 100.0 * one.share, "class");
  if (!sizes.weighted_by.empty()) {
    std::vector<std::pair<double, double>> steps = {{classes.front().low, 0.0}};
    for (const SizeClass& one : classes) {
      steps.emplace_back(one.low, 100.0 * one.amount_share);
      steps.emplace_back(one.high, 100.0 * one.amount_share);
    }
    steps.emplace_back(classes.back().high, 0.0);
    chart.path(steps, "found");
  }
  return chart.svg();
}

}  // namespace scale::report
