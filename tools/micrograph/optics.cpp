#include "optics.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace micrograph {
namespace {

constexpr double kTailSigmas = 5.5;      // the normal tail beyond is 2e-8
constexpr double kStepsPerSigma = 16.0;  // Hermite error of the edge: (1/16)^4 * max|f''''| / 384 = 5e-8
constexpr double kThinBox = 1e-4;        // a box thinner than this pixel changes the edge by less than 1e-9

double density(double t) { return std::exp(-0.5 * t * t) * 0.3989422804014327; }
double distribution(double t) { return 0.5 * std::erfc(-t * std::numbers::sqrt2 / 2.0); }

struct Antiderivatives {
  double first;
  double second;
};

Antiderivatives antiderivatives(double u, double sigma) {
  const double t = u / sigma;
  const double p = distribution(t);
  const double d = sigma * density(t);
  return {u * p + d, 0.5 * ((u * u + sigma * sigma) * p + u * d)};
}

EdgeValue single_edge(double u, double sigma, double wide, double thin) {
  if (wide < kThinBox) return {distribution(u / sigma), density(u / sigma) / sigma};
  if (thin < kThinBox) {
    const double high = u + 0.5 * wide;
    const double low = u - 0.5 * wide;
    return {(antiderivatives(high, sigma).first - antiderivatives(low, sigma).first) / wide,
            (distribution(high / sigma) - distribution(low / sigma)) / wide};
  }
  const double outer = 0.5 * (wide + thin);
  const double inner = 0.5 * (wide - thin);
  const Antiderivatives p = antiderivatives(u + outer, sigma);
  const Antiderivatives q = antiderivatives(u + inner, sigma);
  const Antiderivatives r = antiderivatives(u - inner, sigma);
  const Antiderivatives s = antiderivatives(u - outer, sigma);
  const double area = wide * thin;
  return {((p.second - q.second) - (r.second - s.second)) / area, ((p.first - q.first) - (r.first - s.first)) / area};
}

std::vector<BlurNode> disc_nodes(double radius, double sigma) {
  const int count = std::clamp(static_cast<int>(12 + 6.0 * radius / sigma), 16, 400);
  std::vector<BlurNode> nodes;
  for (int k = 1; k <= count; ++k) {
    const double angle = k * std::numbers::pi / (count + 1);
    const double s = std::sin(angle);
    nodes.push_back({radius * std::cos(angle), 2.0 * s * s / (count + 1)});
  }
  return nodes;
}

std::vector<BlurNode> smear_nodes(double length, double sigma) {
  const int order = std::clamp(static_cast<int>(6 + 2.5 * length / sigma), 6, 64);
  std::vector<BlurNode> nodes = gauss_legendre(order);
  for (BlurNode& node : nodes) node.offset *= length;
  return nodes;
}

std::vector<BlurNode> combine(const std::vector<BlurNode>& first, const std::vector<BlurNode>& second) {
  std::vector<BlurNode> nodes;
  for (const BlurNode& f : first) {
    for (const BlurNode& s : second) nodes.push_back({f.offset + s.offset, f.weight * s.weight});
  }
  return nodes;
}

/// Fewer nodes that blur alike: each node is shared among four places of a grid fine against the Gaussian so that its
/// moments up to the third are kept.
std::vector<BlurNode> merge(const std::vector<BlurNode>& nodes, double sigma) {
  double reach = 0.0;
  for (const BlurNode& node : nodes) reach = std::max(reach, std::abs(node.offset));
  const double step = 0.1 * sigma;
  const int half = static_cast<int>(reach / step) + 3;
  if (static_cast<std::size_t>(2 * half + 1) >= nodes.size()) return nodes;
  std::vector<BlurNode> grid;
  for (int i = -half; i <= half; ++i) grid.push_back({i * step, 0.0});
  for (const BlurNode& node : nodes) {
    const double place = node.offset / step + half;
    const int i = static_cast<int>(place);
    const double t = place - i;
    grid[i - 1].weight -= node.weight * t * (t - 1.0) * (t - 2.0) / 6.0;
    grid[i].weight += node.weight * (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0;
    grid[i + 1].weight -= node.weight * (t + 1.0) * t * (t - 2.0) / 2.0;
    grid[i + 2].weight += node.weight * (t + 1.0) * t * (t - 1.0) / 6.0;
  }
  return grid;
}

}  // namespace

std::vector<BlurNode> gauss_legendre(int order) {
  std::vector<BlurNode> nodes;
  for (int i = 0; i < order; ++i) {
    double x = std::cos(std::numbers::pi * (i + 0.75) / (order + 0.5));
    double slope = 1.0;
    for (int iteration = 0; iteration < 50; ++iteration) {
      double previous = 1.0;
      double current = x;
      for (int k = 2; k <= order; ++k) {
        const double next = ((2 * k - 1) * x * current - (k - 1) * previous) / k;
        previous = current;
        current = next;
      }
      slope = order * (x * current - previous) / (x * x - 1.0);
      const double step = current / slope;
      x -= step;
      if (std::abs(step) < 1e-15) break;
    }
    nodes.push_back({0.5 * x, 1.0 / ((1.0 - x * x) * slope * slope)});
  }
  return nodes;
}

int pixel_order(double sigma) { return std::clamp(static_cast<int>(std::ceil(2.0 + 1.6 / sigma)), 3, 24); }

Blur blur_along(const Optics& optics, double angle) {
  Blur blur;
  blur.sigma = optics.gaussian_px;
  const double smear =
      optics.motion_px * std::abs(std::cos(optics.motion_angle_deg * std::numbers::pi / 180.0 - angle));
  if (optics.disc_px > 0.0) blur.nodes = disc_nodes(optics.disc_px, blur.sigma);
  if (smear > 1e-6) blur.nodes = merge(combine(blur.nodes, smear_nodes(smear, blur.sigma)), blur.sigma);
  for (const BlurNode& node : blur.nodes) blur.node_reach = std::max(blur.node_reach, std::abs(node.offset));
  return blur;
}

EdgeValue edge(const Blur& blur, double u, double a, double b) { return edge(blur, blur.sigma, u, a, b); }

EdgeValue edge(const Blur& blur, double sigma, double u, double a, double b) {
  const double wide = std::max(a, b);
  const double thin = std::min(a, b);
  EdgeValue sum{0.0, 0.0};
  for (const BlurNode& node : blur.nodes) {
    const EdgeValue single = single_edge(u - node.offset, sigma, wide, thin);
    sum.value += node.weight * single.value;
    sum.slope += node.weight * single.slope;
  }
  return sum;
}

double edge_reach(const Blur& blur, double a, double b) {
  return 0.5 * (a + b) + kTailSigmas * blur.sigma + blur.node_reach;
}

EdgeTable::EdgeTable(const Blur& blur, double a, double b) : reach_(edge_reach(blur, a, b)) {
  const int steps = static_cast<int>(std::ceil(2.0 * reach_ * kStepsPerSigma / blur.sigma));
  const double step = 2.0 * reach_ / steps;
  per_step_ = 1.0 / step;
  entries_.resize(static_cast<std::size_t>(steps) + 1);
  for (int i = 0; i <= steps; ++i) {
    EdgeValue entry = edge(blur, -reach_ + i * step, a, b);
    entry.slope *= step;
    entries_[i] = entry;
  }
}

double EdgeTable::value(double u) const {
  if (u <= -reach_) return 0.0;
  if (u >= reach_) return 1.0;
  const double position = (u + reach_) * per_step_;
  const std::size_t i = std::min(static_cast<std::size_t>(position), entries_.size() - 2);
  const double t = position - static_cast<double>(i);
  const EdgeValue& p = entries_[i];
  const EdgeValue& q = entries_[i + 1];
  const double rise = q.value - p.value;
  const double c2 = 3.0 * rise - 2.0 * p.slope - q.slope;
  const double c3 = p.slope + q.slope - 2.0 * rise;
  return p.value + t * (p.slope + t * (c2 + t * c3));
}

EdgeValue EdgeTable::at(double u) const {
  if (u <= -reach_) return {0.0, 0.0};
  if (u >= reach_) return {1.0, 0.0};
  const double position = (u + reach_) * per_step_;
  const std::size_t i = std::min(static_cast<std::size_t>(position), entries_.size() - 2);
  const double t = position - static_cast<double>(i);
  const EdgeValue& p = entries_[i];
  const EdgeValue& q = entries_[i + 1];
  const double rise = q.value - p.value;
  const double c2 = 3.0 * rise - 2.0 * p.slope - q.slope;
  const double c3 = p.slope + q.slope - 2.0 * rise;
  return {p.value + t * (p.slope + t * (c2 + t * c3)), per_step_ * (p.slope + t * (2.0 * c2 + 3.0 * t * c3))};
}

FocusTables::FocusTables(const Blur& blur, double worst_sigma, double a, double b)
    : first_(0.7 * blur.sigma * blur.sigma), log_ratio_(std::log(1.08)), box_(a * a + b * b) {
  // From 0.7 to 1.5 times the variances in the field: room for pixels of another size.
  const double last = 1.5 * worst_sigma * worst_sigma + 0.05;
  Blur step = blur;
  for (double variance = first_;; variance *= 1.08) {
    step.sigma = std::sqrt(variance);
    tables_.emplace_back(step, a, b);
    if (variance > last && tables_.size() >= 3) break;
  }
}

EdgeValue FocusTables::at(double u, double sigma, double a, double b) const {
  const double variance = std::max(first_, sigma * sigma + (a * a + b * b - box_) / 12.0);
  const int last = static_cast<int>(tables_.size()) - 2;
  const int middle = std::clamp(static_cast<int>(std::lround(std::log(variance / first_) / log_ratio_)), 1, last);
  const double s[3] = {first_ * std::exp((middle - 1) * log_ratio_), first_ * std::exp(middle * log_ratio_),
                       first_ * std::exp((middle + 1) * log_ratio_)};
  EdgeValue sum{0.0, 0.0};
  for (int i = 0; i < 3; ++i) {
    const int j = (i + 1) % 3;
    const int k = (i + 2) % 3;
    const double weight = (variance - s[j]) * (variance - s[k]) / ((s[i] - s[j]) * (s[i] - s[k]));
    const EdgeValue value = tables_[middle - 1 + i].at(u);
    sum.value += weight * value.value;
    sum.slope += weight * value.slope;
  }
  return sum;
}

}  // namespace micrograph
