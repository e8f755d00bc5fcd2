#include "calibration/local_ratio.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <scale/units.h>

namespace scale::calibration {
namespace {

constexpr double kReach = 1.05;  // of the half span: so far from the middle the fitted places are believed
constexpr int kPlaces = 9;       // at which the ratio is taken
constexpr int kSteps = 6;        // of Newton's, to the line through a place

// The smooth departure of the places from a straight line, and its slope in z.
struct Smooth {
  double value = 0.0, slope = 0.0;
};

Smooth departure_at(const Ruling& ruling, double z) {
  Smooth departure;
  for (std::size_t k = ruling.nonlinearity.size(); k-- > 0;) {
    departure.slope = departure.slope * z + departure.value;
    departure.value = departure.value * z + ruling.nonlinearity[k];
  }
  return departure;
}

// T(n) and its slope; well beyond the ends it goes on straight. The pitch is the chord, the origin the place of index
// 0.
Smooth smooth_at(const Ruling& ruling, double index) {
  const double half = 0.5 * span_of(ruling), first = ruling.graduations.front().index;
  const auto z_of = [&](double at) { return std::clamp((at - first) / half - 1.0, -kReach, kReach); };
  const double straight =
      ruling.pitch_px - (departure_at(ruling, 1.0).value - departure_at(ruling, -1.0).value) / (2.0 * half);
  const double z = z_of(index), beyond = index - (first + half * (z + 1.0));
  const Smooth here = departure_at(ruling, z), at_zero = departure_at(ruling, z_of(0.0));
  return {ruling.origin_px + straight * index + here.value - at_zero.value + here.slope / half * beyond,
          straight + here.slope / half};
}

double middle_index(const Ruling& ruling) { return ruling.graduations.front().index + 0.5 * span_of(ruling); }

// A place in terms of the ruling's lines.
struct OnRuling {
  double index = 0.0, fanned = 0.0, line_slope = 0.0, straight_pitch = 0.0;
};

OnRuling on_ruling(const Ruling& ruling, const Place& at) {
  const double t = at.x * std::cos(ruling.direction.value) + at.y * std::sin(ruling.direction.value);
  const double along = across(ruling, at) - across(ruling, middle_of(ruling));
  const double growth = ruling.pitch_growth_per_px, upright = smooth_at(ruling, middle_index(ruling)).value;
  OnRuling result;
  result.fanned = 1.0 + growth * along;
  result.index = (t - ruling.origin_px) / ruling.pitch_px;
  for (int step = 0; step < kSteps; ++step) {
    const Smooth smooth = smooth_at(ruling, result.index);
    result.line_slope = growth * (smooth.value - upright);
    result.straight_pitch = smooth.slope;
    result.index += (t - smooth.value - result.line_slope * along) / (smooth.slope * result.fanned);
  }
  return result;
}

// The pitch across the lines at a place, and by how much that is more for the fan of the lines, relative.
struct PitchThere {
  double pitch = 0.0, moved = 0.0;
};

PitchThere pitch_at(const Ruling& ruling, const Place& at) {
  const OnRuling there = on_ruling(ruling, at);
  return {there.straight_pitch * there.fanned / std::hypot(1.0, there.line_slope), there.fanned - 1.0};
}

// Does the ruling have lines at the place, but for its length along them?
bool covers(const Ruling& ruling, const Place& at) {
  const double z = 2.0 * (on_ruling(ruling, at).index - ruling.graduations.front().index) / span_of(ruling) - 1.0;
  return std::abs(z) <= kReach;
}

// Places half-way from the reticle's lines to the micrometer's that both scales cover; else the middle between both.
std::vector<Place> common_places(const Ruling& reticle, const Ruling& micrometer) {
  const double c = std::cos(reticle.direction.value), s = std::sin(reticle.direction.value);
  const Place own = middle_of(reticle), other = middle_of(micrometer);
  const double half = 0.5 * (across(reticle, other) - across(reticle, own));
  std::vector<Place> places;
  for (int i = 0; i < kPlaces; ++i) {
    const auto at = static_cast<std::size_t>(
        std::lround(static_cast<double>(reticle.graduations.size() - 1) * i / (kPlaces - 1.0)));
    const Place line = middle_of(reticle.graduations[at]), place{line.x - half * s, line.y + half * c};
    if (covers(micrometer, place)) places.push_back(place);
  }
  if (places.empty()) places.push_back({0.5 * (own.x + other.x), 0.5 * (own.y + other.y)});
  return places;
}

// What bringing both pitches to one place leaves, relative, standard. The growth is taken to be even from each scale to
// the place: limits (+-) are what both scales' growths differ by, which is how uneven it is, and the square of the
// correction, which is the next order of a perspective. A tilted camera shows lengths across its tilt and along it in
// different proportion: between scales at an angle that counts.
double moving_uncertainty(const Ruling& reticle, const Ruling& micrometer, double moved, double from_middle) {
  const double apart = 0.5 * std::abs(across(reticle, middle_of(micrometer)) - across(reticle, middle_of(reticle)));
  const double u = apart * std::hypot(reticle.pitch_growth_uncertainty, micrometer.pitch_growth_uncertainty);
  const double lean = std::remainder(reticle.direction.value - micrometer.direction.value, kPi);
  const double way = std::cos(reticle.direction.value - micrometer.direction.value) < 0.0 ? -1.0 : 1.0;
  const double one = reticle.pitch_growth_per_px, two = micrometer.pitch_growth_per_px;
  const double limits = std::hypot(moved * moved, (one - way * two) * apart * std::cos(lean)) +
                        std::abs(std::sin(lean)) * (std::abs(one) + std::abs(two)) * from_middle;
  return std::hypot(u, limits / std::sqrt(3.0));
}

}  // namespace

Place middle_of(const Graduation& line) { return {0.5 * (line.x1_px + line.x2_px), 0.5 * (line.y1_px + line.y2_px)}; }

Place middle_of(const Ruling& ruling) {
  Place sum;
  const double share = 1.0 / static_cast<double>(ruling.graduations.size());
  for (const Graduation& line : ruling.graduations) {
    const Place middle = middle_of(line);
    sum.x += share * middle.x, sum.y += share * middle.y;
  }
  return sum;
}

double across(const Ruling& ruling, const Place& at) {
  return at.y * std::cos(ruling.direction.value) - at.x * std::sin(ruling.direction.value);
}

int span_of(const Ruling& ruling) { return ruling.graduations.back().index - ruling.graduations.front().index; }

LocalRatio ratio_of(const Reading& reading, const Ruling& reticle, const Ruling& micrometer) {
  LocalRatio ratio;
  std::vector<double> ratios;
  const std::vector<Place> places = common_places(reticle, micrometer);
  const double share = 1.0 / static_cast<double>(places.size());
  double size = 0.0, from_middle = 0.0;
  for (const Place& place : places) {
    const PitchThere own = pitch_at(reticle, place), other = pitch_at(micrometer, place);
    ratios.push_back(own.pitch / other.pitch);
    ratio.mean += share * ratios.back();
    ratio.moved += share * (own.moved - other.moved);
    size += share * (std::abs(own.moved) + std::abs(other.moved));
    from_middle += share * std::hypot(place.x - 0.5 * reading.width, place.y - 0.5 * reading.height);
  }
  for (const double r : ratios) ratio.spread = std::max(ratio.spread, std::abs(r / ratio.mean - 1.0));
  ratio.moved_uncertainty = moving_uncertainty(reticle, micrometer, size, from_middle);
  return ratio;
}

}  // namespace scale::calibration
