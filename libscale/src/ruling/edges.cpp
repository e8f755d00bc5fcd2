#include "ruling/edges.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace scale {

namespace {

std::vector<float> derivative_kernel(double scale) {
  const int reach = std::max(1, static_cast<int>(std::ceil(3.0 * scale)));
  std::vector<float> kernel(static_cast<std::size_t>(2 * reach + 1));
  double ramp = 0.0;
  for (int i = -reach; i <= reach; ++i) {
    const double weight = i * std::exp(-0.5 * i * i / (scale * scale));
    kernel[static_cast<std::size_t>(i + reach)] = static_cast<float>(weight);
    ramp += weight * i;
  }
  for (float& weight : kernel)
    weight = static_cast<float>(static_cast<double>(weight) / ramp);  // unit response to a unit ramp
  return kernel;
}

}  // namespace

double edge_response_gain(double scale) {
  double sum = 0.0;
  for (const float weight : derivative_kernel(scale)) sum += static_cast<double>(weight) * static_cast<double>(weight);
  return std::sqrt(sum);
}

std::vector<float> edge_response(const Profile& profile, double scale) {
  const std::vector<float> kernel = derivative_kernel(scale);
  const int reach = static_cast<int>(kernel.size() / 2);
  std::vector<float> response(profile.value.size(), 0.0F);
  const auto value = [&](int i) {
    return profile.value[static_cast<std::size_t>(std::clamp(i, profile.begin, profile.end - 1))];
  };
  const auto near_end = [&](int from, int to) {
    for (int i = from; i < to; ++i)
      for (int k = -reach; k <= reach; ++k)
        response[static_cast<std::size_t>(i)] += kernel[static_cast<std::size_t>(k + reach)] * value(i + k);
  };
  const int from = std::min(profile.begin + reach, profile.end), to = std::max(from, profile.end - reach);
  near_end(profile.begin, from);
  near_end(to, profile.end);
  // Some bins at once, which stay in the processor's registers; the kernel's left half is the negative of its right
  // one.
  constexpr int kAtOnce = 16;
  int i = from;
  for (; i + kAtOnce <= to; i += kAtOnce) {
    std::array<float, kAtOnce> sum{};
    const float* values = profile.value.data() + i;
    for (int k = 1; k <= reach; ++k) {
      const float weight = kernel[static_cast<std::size_t>(reach + k)];
      const float *after = values + k, *before = values - k;
      for (std::size_t j = 0; j < sum.size(); ++j) sum[j] += weight * (after[j] - before[j]);
    }
    std::copy(sum.begin(), sum.end(), response.begin() + i);
  }
  near_end(i, to);
  return response;
}

Edges edges_of(const Profile& profile, const std::vector<float>& response, double threshold) {
  Edges edges;
  const float least = static_cast<float>(threshold);
  for (int i = profile.begin + 1; i + 1 < profile.end; ++i) {
    if (std::abs(response[static_cast<std::size_t>(i)]) <= least) continue;
    const double here = static_cast<double>(response[static_cast<std::size_t>(i)]);
    const double magnitude = std::abs(here);
    const double sign = here > 0.0 ? 1.0 : -1.0;
    const double before = sign * static_cast<double>(response[static_cast<std::size_t>(i - 1)]);
    const double after = sign * static_cast<double>(response[static_cast<std::size_t>(i + 1)]);
    if (before > magnitude || after >= magnitude) continue;
    const double curvature = before - 2.0 * magnitude + after;
    const double offset = curvature < 0.0 ? 0.5 * (before - after) / curvature : 0.0;
    const Edge edge{profile.first + i + offset + static_cast<double>(profile.remainder[static_cast<std::size_t>(i)]),
                    magnitude};
    (sign > 0.0 ? edges.rising : edges.falling).push_back(edge);
  }
  return edges;
}

}  // namespace scale
