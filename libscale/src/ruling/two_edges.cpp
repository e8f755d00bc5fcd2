#include "ruling/two_edges.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Dense>

namespace scale {

namespace {

constexpr std::size_t kPhaseCells = 12;  // of a pixel, that samples must fall into
constexpr double kMisfit = 1.25;         // rms over that of the folded shape,
constexpr double kSlack = 0.01;          // and of the contrast
constexpr double kLeastBlur = 0.29;      // bins: of a pixel alone
constexpr int kNeighbours = 2;
constexpr double kFar = 9.0;  // blurs, beyond which an edge is 0 or 1
constexpr int kPasses = 20;
constexpr double kLoneReach = 2.5;  // periods: as far as a neighbour's neighbour reaches into a window

using Six = Eigen::Matrix<double, 6, 1>;

double density(double z) { return 0.3989422804014327 * std::exp(-0.5 * z * z); }
double distribution(double z) { return 0.5 * std::erfc(-z / 1.4142135623730951); }

struct TwoEdges {
  Six p;  // ground, height, centre, width, left blur, right blur
  double period = 0.0;

  // One line alone, above its ground.
  double lone(double t) const {
    return p(1) * (distribution((t + 0.5 * p(3)) / p(4)) - distribution((t - 0.5 * p(3)) / p(5)));
  }
  double at(double t) const {
    double coverage = 0.0;
    for_lines(t, [&](double a, double b) { coverage += distribution(a) - distribution(b); });
    return p(0) + p(1) * coverage;
  }
  // With respect to the parameters.
  Six gradient(double t) const {
    Six g = Six::Zero();
    g(0) = 1.0;
    for_lines(t, [&](double a, double b) {
      const double da = p(1) * density(a) / p(4), db = p(1) * density(b) / p(5);
      g(1) += distribution(a) - distribution(b);
      g(2) += db - da;
      g(3) += 0.5 * (da + db);
      g(4) -= da * a;
      g(5) += db * b;
    });
    return g;
  }
  bool sound() const {
    return p.allFinite() && p(3) > 0.3 && p(3) < period && std::min(p(4), p(5)) > kLeastBlur &&
           std::max(p(4), p(5)) < 0.5 * period;
  }

 private:
  // Calls use(a, b) with the distances of both edges, in their blurs, of every line that reaches t.
  template <class Use>
  void for_lines(double t, Use use) const {
    for (int k = -kNeighbours; k <= kNeighbours; ++k) {
      const double from = t - p(2) - k * period;
      const double a = (from + 0.5 * p(3)) / p(4), b = (from - 0.5 * p(3)) / p(5);
      if (std::min(std::abs(a), std::abs(b)) < kFar || a * b < 0.0) use(a, b);
    }
  }
};

double squares_of(const TwoEdges& model, const Fold& fold) {
  double sum = 0.0;
  for (const FoldCell& cell : fold.cells) sum += cell.weight * std::pow(cell.value - model.at(cell.t), 2);
  return sum;
}

// Gauss-Newton with steps halved until they lead down.
void refine(TwoEdges& model, const Fold& fold) {
  double here = squares_of(model, fold);
  for (int pass = 0; pass < kPasses; ++pass) {
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Zero();
    Six right = Six::Zero();
    for (const FoldCell& cell : fold.cells) {
      const Six g = model.gradient(cell.t);
      normal += cell.weight * g * g.transpose();
      right += cell.weight * (cell.value - model.p(0) - model.p(1) * g(1)) * g;  // the model is linear in these two
    }
    normal.diagonal() *= 1.0 + 1e-9;
    Six step = normal.ldlt().solve(right);
    double there = here;
    for (int halving = 0; halving < 8 && !(there < here); ++halving, step *= 0.5) {
      const TwoEdges next{model.p + step, model.period};
      if (!next.sound()) continue;
      there = squares_of(next, fold);
      if (there < here) model = next;
    }
    if (!(there < here * (1.0 - 1e-9))) return;
    here = there;
  }
}

}  // namespace

bool phases_covered(const Strips& strips, const std::vector<FoldWindow>& windows) {
  std::array<bool, kPhaseCells> seen{};
  for (const FoldWindow& window : windows) {
    const int bin = static_cast<int>(std::lround(window.centre)) - strips.first;
    if (bin < 0 || bin >= strips.bins) continue;
    for (int phase = 0; phase < strips.layout.phases; ++phase) {
      const std::size_t at = strips.at(window.strip, phase) + static_cast<std::size_t>(bin);
      if (strips.count[at] < 0.5F) continue;
      const double place = static_cast<double>(strips.remainder[at]) - window.centre;
      seen[std::min(kPhaseCells - 1, static_cast<std::size_t>((place - std::floor(place)) * kPhaseCells))] = true;
    }
  }
  return std::all_of(seen.begin(), seen.end(), [](bool cell) { return cell; });
}

std::optional<LineShape> two_edges(const Fold& fold, const LineShape& folded, const LineShape& previous,
                                   double period) {
  double total = 0.0, free_squares = 0.0;
  for (const FoldCell& cell : fold.cells) {
    if (std::abs(cell.t) > folded.reach) continue;
    total += cell.weight;
    free_squares += cell.weight * std::pow(cell.value - folded.at(cell.t).value, 2);
  }
  const double blur = std::clamp(previous.blur, 0.4, 0.3 * period);
  TwoEdges model{{0.0, 1.0, 0.0, std::clamp(previous.width, 0.5, 0.9 * period), blur, blur}, period};
  if (fold.cells.size() < 12 || !model.sound()) return std::nullopt;
  refine(model, fold);
  if (std::sqrt(squares_of(model, fold) / total) > kMisfit * std::sqrt(free_squares / total) + kSlack)
    return std::nullopt;
  LineShape shape = folded;
  model.p(2) = 0.0;
  for (std::size_t i = 0; i < shape.value.size(); ++i)
    shape.value[i] = model.at(static_cast<double>(i) * LineShape::step - shape.reach);
  shape.period = period;
  const int half = static_cast<int>(std::ceil(kLoneReach * period / LineShape::step));
  shape.lone_reach = half * LineShape::step;
  for (int i = -half; i <= half + 1; ++i) shape.lone.push_back(model.lone(i * LineShape::step));
  return shape;
}

}  // namespace scale
