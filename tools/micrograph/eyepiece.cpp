#include "micrograph/eyepiece.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "makers.h"

namespace micrograph {
namespace {

constexpr int kReticleLines = 101;

constexpr std::array<std::string_view, 22> kNames = {
    "beside",         "beside_alike",  "beside_slanted", "beside_round", "beside_tilted", "beside_numerals",
    "beside_defocus", "beside_faint",  "beside_jpeg",    "ends",         "ends_alike",    "ends_round",
    "crossing",       "crossing_wide", "crossing_dirty", "over",         "over_slanted",  "beside_phone",
    "ends_phone",     "over_phone",    "single",         "three"};

/// Where a scale lies: the middle of its lines from the middle of the frame, across the scales.
struct Lay {
  double angle_deg = 0.0;
  double across = 0.0;
  double tallest = 0.0;
};

/// A scale about the middle of the frame, shifted along by up to `slack`.
LineScale laid(const Scene& scene, double pitch, int count, const Lay& lay, Random& random, double slack) {
  LineScale scale;
  scale.angle_deg = lay.angle_deg;
  scale.pitch_px = pitch;
  scale.count = count;
  scale.line_width_px = std::max(1.0, pitch * random.uniform(0.1, 0.3));
  scale.two_sided = random.chance(0.3);
  scale.long_px = lay.tallest;
  scale.medium_px = lay.tallest * random.uniform(0.75, 0.88);
  scale.short_px = lay.tallest * random.uniform(0.5, 0.68);
  scale.levels = random.chance(0.85) ? Levels::fifth_and_tenth : Levels::all_equal;
  if (scale.levels == Levels::all_equal) scale.short_px = lay.tallest;
  const double angle = lay.angle_deg * std::numbers::pi / 180.0;
  const double start = -0.5 * (count - 1) * pitch + slack * random.uniform(-1.0, 1.0);
  // One-sided lines stand on v = 0 and point away from the middle of the frame, or towards it.
  const double v = scale.two_sided ? lay.across : lay.across - 0.5 * lay.tallest;
  scale.origin_x = 0.5 * (scene.width - 1) + start * std::cos(angle) - v * std::sin(angle);
  scale.origin_y = 0.5 * (scene.height - 1) + start * std::sin(angle) + v * std::cos(angle);
  return scale;
}

/// Micrometer divisions per reticle division: nearly one, or far from it.
double drawn_ratio(Random& random, bool alike) {
  if (alike) return 1.0 + random.sign() * random.uniform(0.012, 0.08);
  const double ratio = random.log_uniform(1.15, 4.5);
  return random.chance(0.5) ? ratio : 1.0 / ratio;
}

/// How the two scales lie to each other; heights and distances are shares of the frame's height.
struct Arrangement {
  double slant_deg = 0.0;  ///< the reticle's angle against the micrometer's
  double height_a = 0.16, height_b = 0.16;
  double gap = 0.02;  ///< between the two, negative: their ends overlap
};

Scene arranged(const Arrangement& how, bool alike, Random& random) {
  Scene scene;
  scene.width = random.chance(0.5) ? 1280 : 1500;
  scene.height = scene.width * 3 / 4;
  scene.ground.level = random.uniform(0.6, 0.88);
  scene.ground.contrast = random.uniform(0.5, 0.92);
  scene.optics.gaussian_px = random.uniform(0.6, 1.2);
  scene.sensor.read_noise = random.log_uniform(0.6, 3.0);
  const double reticle_span = scene.width * random.uniform(0.62, 0.86);
  const double pitch = reticle_span / (kReticleLines - 1);
  const double micrometer_pitch = std::clamp(pitch * drawn_ratio(random, alike), 5.0, 60.0);
  const double angle =
      (random.chance(0.5) ? random.uniform(-3.0, 3.0) : random.uniform(-20.0, 20.0)) * (how.gap > 0 ? 1.0 : 0.5);
  const double height_a = how.height_a * scene.height, height_b = how.height_b * scene.height;
  const double apart = 0.5 * (height_a + height_b) + how.gap * scene.height;
  const double shift = 0.06 * scene.height * random.uniform(-1.0, 1.0), side = random.sign();
  // As far as the field goes, or a whole scale of a number of its own.
  const int fitting = static_cast<int>(0.85 * scene.width / micrometer_pitch);
  const int count =
      random.chance(0.5) ? std::max(8, std::min(fitting, 100)) : std::max(8, static_cast<int>(1.4 * fitting));
  scene.scales.push_back(
      laid(scene, micrometer_pitch, count, {angle, shift - side * 0.5 * apart, height_a}, random, 0.03 * scene.width));
  scene.scales.push_back(laid(scene, pitch, kReticleLines,
                              {angle + how.slant_deg, shift + side * 0.5 * apart, height_b}, random,
                              0.01 * scene.width));
  if (random.chance(0.3)) scene.scales[1].base_line_px = scene.scales[1].line_width_px;
  // Either may be the darker one.
  scene.scales[static_cast<std::size_t>(random.integer(0, 1))].amplitude = random.uniform(0.55, 1.0);
  scene.geometry.tilt_x = 0.004 * random.normal();
  scene.geometry.tilt_y = 0.004 * random.normal();
  scene.shading.linear_x = 0.06 * random.normal();
  scene.shading.linear_y = 0.06 * random.normal();
  scene.shading.vignette = random.uniform(0.0, 0.25);
  return scene;
}

double slant(Random& random, double low, double high) { return random.sign() * random.uniform(low, high); }

void into_round_field(Scene& scene, Random& random) {
  scene.field.on = true;
  scene.field.radius_px = scene.height * random.uniform(0.5, 0.62);
  scene.field.x = 0.5 * scene.width + 0.03 * scene.width * random.normal();
  scene.field.y = 0.5 * scene.height + 0.02 * scene.height * random.normal();
  scene.field.softness_px = random.uniform(1.5, 6.0);
  scene.field.outside = random.uniform(0.01, 0.05);
}

void soil(Scene& scene, Random& random) {
  scene.clutter.dirt = random.integer(3, 12);
  scene.clutter.scratches = random.integer(0, 2);
  scene.sensor.read_noise = random.log_uniform(2.0, 8.0);
}

/// What a telephone does that is held to the eyepiece by hand, to any arrangement.
void by_phone(Scene& scene, Random& random) {
  into_round_field(scene, random);
  scene.geometry.tilt_x = slant(random, 0.0, 0.03);
  scene.geometry.tilt_y = slant(random, 0.0, 0.03);
  scene.geometry.distortion = random.uniform(-0.01, 0.01);
  LineScale& either = scene.scales[static_cast<std::size_t>(random.integer(0, 1))];
  either.defocus_px = std::min(1.5, either.pitch_px * random.uniform(0.0, 0.15));
  if (random.chance(0.5)) scene.scales[1].numeral_px = scene.height * random.uniform(0.025, 0.035);
  scene.colour.channels = 3;
  scene.colour.red = random.uniform(0.8, 1.05);
  scene.colour.green = random.uniform(0.8, 1.05);
  scene.colour.blue = random.uniform(0.6, 1.0);
  scene.clutter.dirt = random.integer(2, 8);
  scene.sensor.gamma = random.uniform(1.0, 2.2);
  scene.sensor.sharpen = random.uniform(0.0, 0.6);
  scene.sensor.jpeg_quality = random.integer(75, 95);
}

Scene beside(Random& random) { return arranged({0.0, 0.16, 0.16, random.uniform(0.02, 0.06)}, false, random); }

Scene ends(Random& random, bool alike) {
  return arranged({slant(random, 0.0, 0.5), 0.22, 0.22, -random.uniform(0.03, 0.09)}, alike, random);
}

Scene crossing(Random& random, double low, double high) {
  return arranged({slant(random, low, high), 0.26, 0.26, -random.uniform(0.14, 0.26)}, false, random);
}

/// Two beats or more over what is in view: |1/p1 - 1/p2| S > 2.
Scene over(Random& random, double low, double high) {
  for (;;) {
    Scene scene = arranged({slant(random, low, high), 0.24, random.uniform(0.2, 0.3), 0.0}, random.chance(0.3), random);
    const LineScale &a = scene.scales[0], &b = scene.scales[1];
    const double span = std::min({a.pitch_px * (a.count - 1), b.pitch_px * (b.count - 1), 1.0 * scene.width});
    if (std::abs(1.0 / a.pitch_px - 1.0 / b.pitch_px) * span < 2.0) continue;
    for (LineScale& scale : scene.scales) {
      const double angle = scale.angle_deg * std::numbers::pi / 180.0;
      // Both middles to the middle of the frame, across.
      const double v = (scene.height - 1) * 0.5 * std::cos(angle) - (scene.width - 1) * 0.5 * std::sin(angle);
      const double own = scale.origin_y * std::cos(angle) - scale.origin_x * std::sin(angle) +
                         (scale.two_sided ? 0.0 : 0.5 * scale.long_px);
      scale.origin_x -= (v - own) * std::sin(angle);
      scale.origin_y += (v - own) * std::cos(angle);
    }
    return scene;
  }
}

Scene made(EyepieceClass kind, Random& random) {
  switch (kind) {
    case EyepieceClass::beside:
      return beside(random);
    case EyepieceClass::beside_alike:
      return arranged({0.0, 0.16, 0.16, random.uniform(0.02, 0.06)}, true, random);
    case EyepieceClass::beside_slanted:
      return arranged({slant(random, 1.0, 4.0), 0.14, 0.14, 0.08}, random.chance(0.5), random);
    case EyepieceClass::ends:
      return ends(random, false);
    case EyepieceClass::ends_alike:
      return ends(random, true);
    case EyepieceClass::crossing:
      return crossing(random, 3.0, 12.0);
    case EyepieceClass::crossing_wide:
      return crossing(random, 15.0, 75.0);
    case EyepieceClass::over:
      return over(random, 0.0, 0.3);
    case EyepieceClass::over_slanted:
      return over(random, 1.0, 3.0);
    default:
      break;
  }
  const bool at_ends = kind == EyepieceClass::ends_round || kind == EyepieceClass::ends_phone;
  Scene scene = at_ends                                 ? ends(random, random.chance(0.5))
                : kind == EyepieceClass::crossing_dirty ? crossing(random, 3.0, 30.0)
                : kind == EyepieceClass::over_phone     ? over(random, 0.0, 2.0)
                                                        : beside(random);
  LineScale &micrometer = scene.scales[0], &reticle = scene.scales[1];
  LineScale& either = random.chance(0.5) ? micrometer : reticle;
  switch (kind) {
    case EyepieceClass::beside_round:
      into_round_field(scene, random);
      break;
    case EyepieceClass::beside_tilted:
      scene.geometry.tilt_x = slant(random, 0.01, 0.05);
      scene.geometry.tilt_y = slant(random, 0.01, 0.05);
      scene.geometry.distortion = random.uniform(-0.01, 0.01);
      break;
    case EyepieceClass::beside_numerals:
      reticle.numeral_px = scene.height * random.uniform(0.025, 0.04);
      break;
    case EyepieceClass::beside_defocus:
      either.defocus_px = either.pitch_px * random.uniform(0.12, 0.22);
      break;
    case EyepieceClass::beside_faint:
      either.amplitude = random.uniform(0.2, 0.4);
      break;
    case EyepieceClass::beside_jpeg:
    case EyepieceClass::crossing_dirty:
      soil(scene, random);
      scene.sensor.jpeg_quality = random.integer(60, 92);
      break;
    case EyepieceClass::ends_round:
      into_round_field(scene, random);
      soil(scene, random);
      break;
    case EyepieceClass::beside_phone:
    case EyepieceClass::ends_phone:
    case EyepieceClass::over_phone:
      by_phone(scene, random);
      break;
    case EyepieceClass::single:
      scene.scales.erase(scene.scales.begin() + random.integer(0, 1));
      break;
    case EyepieceClass::three: {
      LineScale third = reticle;
      third.pitch_px *= random.uniform(1.17, 1.4);
      third.count = 60;
      const double away =
          (micrometer.origin_y < reticle.origin_y ? 1.0 : -1.0) * (reticle.long_px + 0.03 * scene.height);
      third.origin_y += away;
      scene.scales.push_back(third);
      break;
    }
    default:
      break;
  }
  return scene;
}

}  // namespace

std::vector<EyepieceClass> all_eyepiece_classes() {
  std::vector<EyepieceClass> all;
  for (std::size_t i = 0; i < kNames.size(); ++i) all.push_back(static_cast<EyepieceClass>(i));
  return all;
}

std::optional<EyepieceClass> eyepiece_class_named(std::string_view name) {
  const auto found = std::find(kNames.begin(), kNames.end(), name);
  if (found == kNames.end()) return std::nullopt;
  return static_cast<EyepieceClass>(found - kNames.begin());
}

std::string_view name_of(EyepieceClass eyepiece_class) { return kNames[static_cast<std::size_t>(eyepiece_class)]; }

Scene random_eyepiece(EyepieceClass eyepiece_class, std::uint64_t seed) {
  Random random(seed, 0xe7e00ULL + static_cast<std::uint64_t>(eyepiece_class));
  Scene scene = made(eyepiece_class, random);
  scene.seed = seed;
  scene.name = std::string("eyepiece_").append(name_of(eyepiece_class));
  return scene;
}

}  // namespace micrograph
