#include "ruling/light_share.h"

#include <algorithm>
#include <cmath>

#include <boost/math/distributions/fisher_f.hpp>

namespace scale {

namespace {

constexpr double kByChance = 0.01;
constexpr double kOpenOfFew = 0.5;  // variance of the share times degrees of freedom
constexpr double kMostOpen = 0.25;  // variance of the share where nothing tells it
constexpr double kTiny = 1e-30;

}  // namespace

LightShare share_of_light(const std::vector<double>& own, const std::vector<double>& smooth, int terms) {
  const double n = static_cast<double>(own.size()), freedom = n - terms - 1.0;
  if (freedom < 1.0) return {1.0, std::sqrt(kMostOpen)};
  double sum = 0.0, squares = 0.0, off = 0.0;
  for (std::size_t i = 0; i < own.size(); ++i) {
    sum += smooth[i], squares += smooth[i] * smooth[i];
    off += (own[i] - smooth[i]) * (own[i] - smooth[i]);
  }
  const double f = (squares - sum * sum / n) / terms / std::max(off / freedom, kTiny);
  const double by_chance =
      boost::math::quantile(boost::math::complement(boost::math::fisher_f(terms, freedom), kByChance));
  const double share = std::max(0.0, 1.0 - by_chance / std::max(f, kTiny));
  return {share, std::sqrt(std::min(kMostOpen, share * (1.0 - share) + kOpenOfFew / freedom))};
}

double shift_by_slope(const LineShape& shape) {
  double moment = 0.0, squares = 0.0;
  for (double t = -shape.window; t <= shape.window; t += LineShape::step) {
    if (std::abs(t) >= shape.reach) continue;
    const LineShape::Sample s = shape.at(t);
    moment += t * s.value * s.slope;
    squares += s.slope * s.slope;
  }
  return squares > 0.0 ? -moment / squares : 0.0;
}

}  // namespace scale
