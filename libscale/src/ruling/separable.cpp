#include "ruling/separable.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <oneapi/tbb/parallel_for.h>
#include <Eigen/Core>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr std::size_t kMostLines = 8;
constexpr int kMostRows = 11, kLeastColumns = 8;
constexpr double kLeastPeriods = 1.5;    // of a line's length, to see what comes again
constexpr double kSmoothing = 12.0;      // parts of the period, of a cell's half width,
constexpr double kLeastHalf = 1.5;       // which is at least so many pixels: where the pixels fall must not show
constexpr double kLeastSeen = 0.5;       // of the pixels of a cell
constexpr double kMedianOfNoise = 0.63;  // of a column's mean square, over its mean: cells overlap (measured)
constexpr double kEndBlurs = 2.5;
constexpr int kSteps = 12;  // of the power method: the first singular value is far larger or does not matter

// A weighted mean, and what is left in it of the variance of one pixel.
struct Cell {
  double mean = 0.0, variance = 0.0;
};

// About `s`, weights falling to nought at `half` pixels from it; nothing where it is out of view.
std::optional<Cell> cell(const Strips& strips, int strip, double s, double half) {
  const std::size_t at = strips.at(strip, 0);
  const int from = std::max(0, static_cast<int>(std::floor(s - half)) - strips.first - 1),
            to = std::min(strips.bins, static_cast<int>(std::ceil(s + half)) - strips.first + 2);
  double weights = 0.0, sum = 0.0, squares = 0.0;
  for (int bin = from; bin < to; ++bin) {
    const std::size_t i = at + static_cast<std::size_t>(bin);
    const double place = strips.first + bin + static_cast<double>(strips.remainder[i]);
    const double near = std::max(0.0, 1.0 - std::abs(place - s) / half),
                 weight = static_cast<double>(strips.count[i]) * near;
    weights += weight, sum += weight * static_cast<double>(strips.mean[i]), squares += weight * near;
  }
  if (weights < kLeastSeen * half * strips.layout.height) return std::nullopt;
  return Cell{sum / weights, squares / (weights * weights)};
}

// One row for each place across the line, one column for each strip in which all of them are in view.
struct Cells {
  Eigen::MatrixXd means;
  double variance = 0.0;  // of a mean, in the mean, for one of a pixel
};

Cells cells_about(const Strips& strips, const Graduations& g, std::size_t line, double half) {
  const int rows = std::clamp(static_cast<int>(g.period), 3, kMostRows);
  const double margin = std::max(strips.layout.height, kEndBlurs * g.shape.blur);
  Eigen::MatrixXd cells(rows, strips.layout.count);
  Eigen::Index columns = 0;
  double variance = 0.0, count = 0.0;
  for (int k = 0; k < strips.layout.count; ++k) {
    const double v = strips.v_centre(k), centre = g.centre_at(line, v);
    if (v < g.lines[line].v_low + margin || v > g.lines[line].v_high - margin) continue;
    int row = 0;
    for (; row < rows; ++row) {
      const auto mean = cell(strips, k, centre + ((row + 0.5) / rows - 0.5) * g.period, half);
      if (!mean) break;
      cells(row, columns) = mean->mean;
      variance += mean->variance, count += 1.0;
    }
    columns += row == rows;
  }
  return {cells.leftCols(columns), variance / std::max(1.0, count)};
}

// Less the mean of the columns within `reach` of each.
Eigen::MatrixXd less_running_mean(const Eigen::MatrixXd& cells, Eigen::Index reach) {
  Eigen::MatrixXd sums = Eigen::MatrixXd::Zero(cells.rows(), cells.cols() + 1), rest(cells.rows(), cells.cols());
  for (Eigen::Index j = 0; j < cells.cols(); ++j) sums.col(j + 1) = sums.col(j) + cells.col(j);
  for (Eigen::Index j = 0; j < cells.cols(); ++j) {
    const Eigen::Index from = std::max<Eigen::Index>(0, j - reach), to = std::min(cells.cols(), j + reach + 1);
    rest.col(j) = cells.col(j) - (sums.col(to) - sums.col(from)) / static_cast<double>(to - from);
  }
  return rest;
}

double median_of_columns(const Eigen::MatrixXd& cells) {
  std::vector<double> squares;
  for (const auto column : cells.colwise()) squares.push_back(column.squaredNorm() / static_cast<double>(cells.rows()));
  return numeric::upper_median(std::move(squares));
}

Eigen::MatrixXd less_rank_one(const Eigen::MatrixXd& cells) {
  Eigen::VectorXd across = Eigen::VectorXd::Ones(cells.rows());
  for (int step = 0; step < kSteps && across.norm() > 0.0; ++step)
    across = cells * (cells.transpose() * across.normalized());
  if (across.norm() > 0.0) across.normalize();
  return cells - across * (across.transpose() * cells);
}

}  // namespace

Crossing look_across(const Strips& strips, const Graduations& g, double noise) {
  const double half = std::max(kLeastHalf, g.period / kSmoothing), height = strips.layout.height;
  const auto reach = static_cast<Eigen::Index>(std::ceil(g.period * std::cos(g.angle) / height));
  const std::size_t step = 1 + g.lines.size() / kMostLines, n = (g.lines.size() + step - 1) / step;
  std::vector<double> all(n, -1.0), left(n, -1.0);
  oneapi::tbb::parallel_for(std::size_t{0}, n, [&](std::size_t i) {
    const auto [cells, variance] = cells_about(strips, g, i * step, half);
    if (cells.cols() < kLeastColumns || static_cast<double>(cells.cols()) * height < kLeastPeriods * g.period) return;
    const double rows = static_cast<double>(cells.rows()), of_noise = kMedianOfNoise * variance * noise * noise;
    const Eigen::MatrixXd changes = less_running_mean(cells, reach);
    all[i] = std::max(0.0, median_of_columns(changes) - of_noise);
    left[i] = std::max(0.0, median_of_columns(less_rank_one(changes)) - of_noise * (rows - 1.0) / rows);
  });
  std::erase(all, -1.0);
  std::erase(left, -1.0);
  if (all.empty()) return {};
  return {std::sqrt(numeric::upper_median(std::move(all))), std::sqrt(numeric::upper_median(std::move(left)))};
}

}  // namespace scale
