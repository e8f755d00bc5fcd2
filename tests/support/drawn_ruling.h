// Rulings as the engine would give them, put together from closed form: no picture, no noise that was not asked for.
#pragma once

#include <scale/setup.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace test_support {

// A scale under a camera. Graduation n lies at `position_um(n)` from graduation 0.
struct DrawnShot {
  double um_per_pixel = 0.69;
  double centre_um = 500.0;  // what lies in the middle of the picture
  double angle_deg = 0.0;
  int divisions = 100;
  int width = 1280, height = 960;
  double kappa = 0.0;       // radial distortion, of half the diagonal
  bool levels = true;       // long graduations are seen longer
  double noise_px = 0.003;  // what is claimed of a line's centre
  std::function<double(int)> position_um = [](int n) { return 10.0 * n; };
  std::function<double(int)> noise = [](int) { return 0.0; };  // pixels
};

inline double drawn_length(const DrawnShot& shot, int n) {
  if (!shot.levels) return 40.0;
  return n % 10 == 0 ? 80.0 : n % 5 == 0 ? 60.0 : 40.0;
}

// Least squares of position on index, as simple as can be.
inline void fit_drawn(scale::Ruling& ruling) {
  double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (const auto& line : ruling.graduations)
    n += 1.0, sx += line.index, sy += line.position_px, sxx += line.index * line.index,
        sxy += line.index * line.position_px;
  ruling.pitch_px = (n * sxy - sx * sy) / (n * sxx - sx * sx);
  ruling.origin_px = (sy - ruling.pitch_px * sx) / n;
  double squares = 0.0;
  for (auto& line : ruling.graduations) {
    line.residual_px = line.position_px - ruling.origin_px - ruling.pitch_px * line.index;
    squares += line.residual_px * line.residual_px;
    ruling.residual_max_px = std::max(ruling.residual_max_px, std::abs(line.residual_px));
  }
  ruling.residual_rms_px = std::sqrt(squares / n);
  ruling.degrees_of_freedom = n - 2.0;
  const double claimed = std::max(squares / (n - 2.0), std::pow(ruling.graduations.front().uncertainty_px, 2));
  ruling.pitch_uncertainty_px = std::sqrt(claimed / (sxx - sx * sx / n));
}

// The free ends of the graduations point a quarter turn from the direction in which numbers grow, from +x towards +y:
// down, when graduation 0 is at the left.
inline scale::Shot drawn(const DrawnShot& shot, const std::string& name = "shot") {
  const double turn = shot.angle_deg * scale::kPi / 180.0, c = std::cos(turn), s = std::sin(turn);
  const double middle_x = 0.5 * (shot.width - 1), middle_y = 0.5 * (shot.height - 1);
  const double R = 0.5 * std::hypot(shot.width, shot.height);
  scale::Shot result;
  result.name = name;
  result.width = shot.width, result.height = shot.height;
  result.reading.width = shot.width, result.reading.height = shot.height;
  scale::Ruling ruling;
  // The engine gives directions in (-90, 90] degrees; a scale laid the other way round is then read backwards.
  const bool backwards = c < -1e-12 || (std::abs(c) <= 1e-12 && s < 0.0);
  ruling.direction = scale::Radians{backwards ? std::atan2(-s, -c) : turn};
  for (int n = 0; n <= shot.divisions; ++n) {
    const double r = (shot.position_um(n) - shot.centre_um) / shot.um_per_pixel;
    const double u = r * (1.0 + shot.kappa * r * r / (R * R)) + shot.noise(n);
    const auto at = [&](double v) { return std::pair{middle_x + u * c - v * s, middle_y + u * s + v * c}; };
    const auto [x1, y1] = at(-20.0);
    const auto [x2, y2] = at(-20.0 + drawn_length(shot, n));
    if (std::min({x1, x2, y1, y2}) < 3.0 || std::max(x1, x2) > shot.width - 4.0 || std::max(y1, y2) > shot.height - 4.0)
      continue;
    scale::Graduation line;
    line.index = n;
    line.position_px = x1 * std::cos(ruling.direction.value) + y1 * std::sin(ruling.direction.value);
    line.uncertainty_px = shot.noise_px;
    line.x1_px = x1, line.y1_px = y1, line.x2_px = x2, line.y2_px = y2;
    ruling.graduations.push_back(line);
  }
  if (backwards) std::reverse(ruling.graduations.begin(), ruling.graduations.end());
  for (std::size_t i = 0; i < ruling.graduations.size(); ++i) ruling.graduations[i].index = static_cast<int>(i);
  fit_drawn(ruling);
  result.reading.rulings.push_back(ruling);
  return result;
}

}  // namespace test_support
