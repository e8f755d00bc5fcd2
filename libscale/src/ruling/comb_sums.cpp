#include "ruling/comb_sums.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

#include "ruling/comb_pixels.h"

namespace scale {
namespace {

constexpr double kSpread = 0.05;  // of the light, of a pixel about the model: noise, and what was not taken out well
constexpr double kGroundSpread = 0.05;  // of the light: by so much the ground beside a line differs from the common one
constexpr double kDepthSpread = 0.15;   // of the depth, from line to line

}  // namespace

void LineSums::add(double value, double trust, const LineShape::Sample& shape) {
  const double slope = -shape.slope, by_slope = trust * slope, by_value = trust * shape.value;
  all_slope += slope * slope;
  one += trust, s += by_value, d += by_slope;
  ss += by_value * shape.value, sd += by_value * slope, dd += by_slope * slope;
  y += trust * value, ys += by_value * value, yd += by_slope * value;
  squares += trust * value * value;
}

void LineSums::add(const LineSums& other) {
  one += other.one, s += other.s, d += other.d, ss += other.ss, sd += other.sd, dd += other.dd;
  y += other.y, ys += other.ys, yd += other.yd;
  squares += other.squares, all_slope += other.all_slope;
}

Solved LineSums::solved(const Prior& prior) const {
  Solved result;
  if (!(one > 0.0)) return result;
  Eigen::Matrix3d normal;
  normal << one, s, d, s, ss, sd, d, sd, dd;
  const Eigen::Vector3d right(y, ys, yd);
  Eigen::Matrix3d n = normal;
  Eigen::Vector3d r = right;
  n(0, 0) += std::pow(kSpread / kGroundSpread, 2);
  const double spread = prior.known ? kDepthSpread * std::abs(prior.depth) : 1.0;
  const double weight = std::pow(kSpread / std::max(1e-3, spread), 2);
  n(1, 1) += weight, r(1) += weight * prior.depth;
  n(2, 2) += 1e-6;
  const Eigen::Vector3d x = n.ldlt().solve(r);
  result.ground = x(0), result.depth = x(1);
  result.shift = std::abs(x(1)) > 1e-6 ? x(2) / x(1) : 0.0;
  const double about = squares - right(0) * right(0) / normal(0, 0);
  const double left = squares - 2.0 * right.dot(x) + x.dot(normal * x);
  result.explained = about > 0.0 ? 1.0 - left / about : 0.0;
  return result;
}

void LineRead::limit(const Prior& prior, double goes_on, double covered) {
  from = core_from, to = core_to;
  const auto sure = [&](std::size_t k) {
    return blocks[k].coverage() >= covered && blocks[k].solved({}).depth / prior.depth >= goes_on;
  };
  const auto hidden = [&](std::size_t k) { return blocks[k].all_slope > 0.0 && blocks[k].coverage() < covered; };
  for (std::size_t k = core_to; k < blocks.size() && (sure(k) || hidden(k)); ++k)
    if (sure(k)) to = k + 1;
  for (std::size_t k = core_from; k-- > 0 && (sure(k) || hidden(k));)
    if (sure(k)) from = k;
  total = {};
  double weight = 0.0, sum = 0.0;
  for (std::size_t k = from; k < to; ++k) {
    total.add(blocks[k]);
    weight += blocks[k].dd, sum += blocks[k].dd * v_of(k);
  }
  v_mean = weight > 0.0 ? sum / weight : 0.5 * (low() + high());
}

LineRead read_line(const Light& light, const Comb& comb, double index, double v_low, double v_high, double shift) {
  LineRead read;
  read.shift = shift;
  // The core begins and ends with whole blocks.
  const double before = std::ceil((comb.v_low - v_low) / kBlockHeight),
               after = std::ceil((v_high - comb.v_high) / kBlockHeight);
  const double core = std::max(1.0, std::floor((comb.v_high - comb.v_low) / kBlockHeight));
  read.v_first = comb.v_low - std::max(0.0, before) * kBlockHeight;
  read.core_from = static_cast<std::size_t>(std::max(0.0, before));
  read.core_to = read.core_from + static_cast<std::size_t>(core);
  read.blocks.resize(read.core_to + static_cast<std::size_t>(std::max(0.0, after)));
  const double end = read.v_first + static_cast<double>(read.blocks.size()) * kBlockHeight;
  visit_line(light.share.size(), path_of(comb, index, shift), read.v_first, end, comb.shape.window,
             [&](int x, int y, double offset, double v) {
               const double block = (v - read.v_first) / kBlockHeight;
               if (block < 0.0 || block >= static_cast<double>(read.blocks.size())) return;
               read.blocks[static_cast<std::size_t>(block)].add(light.off(x, y), light.trusted(x, y),
                                                                comb.shape.at(offset));
             });
  for (std::size_t k = read.core_from; k < read.core_to; ++k) read.core.add(read.blocks[k]);
  read.from = read.core_from, read.to = read.core_to, read.total = read.core;
  return read;
}

}  // namespace scale
