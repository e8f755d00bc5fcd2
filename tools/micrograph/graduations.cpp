#include "graduations.h"

#include <algorithm>

#include "micrograph/random.h"

namespace micrograph {
namespace {

double level_length(const LineScale& scale, int number) {
  if (scale.levels == Levels::all_equal) return scale.short_px;
  if (number % 10 == 0) return scale.long_px;
  const int medium = scale.levels == Levels::fifth_and_tenth ? 5 : 2;
  return number % medium == 0 ? scale.medium_px : scale.short_px;
}

bool listed(const std::vector<int>& numbers, int number) {
  return std::find(numbers.begin(), numbers.end(), number) != numbers.end();
}

void break_line(Graduation& line, Random& random) {
  const double length = line.v2 - line.v1;
  const int gaps = random.integer(1, 3);
  for (int i = 0; i < gaps; ++i) {
    const double middle = line.v1 + length * random.uniform(0.05, 0.95);
    const double half = 0.5 * length * random.uniform(0.04, 0.2);
    line.gaps.emplace_back(middle - half, middle + half);
  }
  std::sort(line.gaps.begin(), line.gaps.end());
}

Graduation make(const Scene& scene, std::size_t index, int number) {
  const LineScale& scale = scene.scales[index];
  Random random(scene.seed,
                0x5ca1e000ULL + (static_cast<std::uint64_t>(index) << 40) + static_cast<std::uint64_t>(number));
  Graduation line;
  line.number = number;
  line.nominal_u = number * scale.pitch_px;
  line.u = line.nominal_u + scale.error_sd_px * random.normal();
  if (static_cast<std::size_t>(number) < scale.errors_px.size())
    line.u += scale.errors_px[static_cast<std::size_t>(number)];
  line.width = scale.line_width_px * std::max(0.2, 1.0 + scale.width_variation * random.normal());
  line.amplitude = scale.amplitude * std::max(0.0, 1.0 + scale.amplitude_variation * random.normal());
  const double length = level_length(scale, number) * std::max(0.3, 1.0 + scale.length_variation * random.normal());
  line.v1 = scale.two_sided ? -0.5 * length : 0.0;
  line.v2 = line.v1 + length;
  line.missing = random.chance(scale.missing_probability) || listed(scale.missing, number);
  if (random.chance(scale.broken_probability) || listed(scale.broken, number)) break_line(line, random);
  return line;
}

}  // namespace

std::vector<Graduation> graduations(const Scene& scene, std::size_t index) {
  const LineScale& scale = scene.scales[index];
  std::vector<Graduation> lines;
  for (int number = 0; number < scale.count; ++number) {
    if (scale.fine_until >= 0 && number > scale.fine_until && number % 10 != 0) continue;
    lines.push_back(make(scene, index, number));
  }
  return lines;
}

}  // namespace micrograph
