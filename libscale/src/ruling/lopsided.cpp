#include "ruling/lopsided.h"

#include <cmath>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr double kLeastStep = 0.015;  // of the line's contrast
constexpr double kSignificance = 5.0;
constexpr std::size_t kLeastWindows = 3;

}  // namespace

bool is_lopsided(const Graduations& g, std::size_t line, const LineShape& shape) {
  std::vector<double> steps;
  for (const LineWindow& w : g.windows) {
    if (w.line != line || !w.used) continue;
    if (const auto step = ground_step(g.strips, w.strip, g.centre(w.line, w.strip), shape, w.fit,
                                      {w.lacking, g.lines[line].amplitude}))
      steps.push_back(*step / w.fit.amplitude);
  }
  if (steps.size() < kLeastWindows) return false;
  const double scatter = numeric::mad_sigma(std::span<const double>(steps));
  const double step = std::abs(numeric::median(std::span<const double>(steps)));
  return step > kLeastStep && step > kSignificance * scatter / std::sqrt(static_cast<double>(steps.size()));
}

}  // namespace scale
