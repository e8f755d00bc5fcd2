#include "figures.h"

#include <algorithm>
#include <cstdio>

namespace bench {

void Figures::add(const std::string& name, double value, Limit limit, double target, const std::string& how) {
  const bool most = limit == Limit::at_most;
  const bool held = most ? value <= target : value >= target;
  if (!held) ++missed_;
  std::printf("%-46s %9.3f   %s %7.3f   %-6s  %s\n", name.c_str(), value, most ? "at most " : "at least", target,
              held ? "held" : "MISSED", how.c_str());
  std::fflush(stdout);
}

void Figures::check_answer(const std::string& name, bool right, const std::string& what) {
  if (right) return;
  ++missed_;
  std::printf("%-46s WRONG ANSWER: %s\n", name.c_str(), what.c_str());
}

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace bench
