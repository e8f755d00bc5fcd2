#include <nlohmann/json.hpp>
#include <stdexcept>

#include "micrograph/classes.h"
#include "micrograph/files.h"

namespace micrograph {

NLOHMANN_JSON_SERIALIZE_ENUM(Polarity, {{Polarity::dark_on_bright, "dark_on_bright"},
                                        {Polarity::bright_on_dark, "bright_on_dark"}})
NLOHMANN_JSON_SERIALIZE_ENUM(Levels, {{Levels::all_equal, "all_equal"},
                                      {Levels::fifth_and_tenth, "fifth_and_tenth"},
                                      {Levels::second_and_tenth, "second_and_tenth"}})

void to_json(nlohmann::json& json, NoScale kind) { json = std::string(name_of(kind)); }
void from_json(const nlohmann::json& json, NoScale& kind) {
  const auto name = json.get<std::string>();
  kind = no_scale_named(name).value_or(NoScale::none);
}

NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Ground, level, contrast, polarity)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(LineScale, angle_deg, pitch_px, origin_x, origin_y, count,
                                                line_width_px, levels, short_px, medium_px, long_px, two_sided,
                                                base_line_px, numeral_px, fine_until, pair_offset_px, amplitude,
                                                defocus_px, amplitude_variation, width_variation, length_variation,
                                                error_sd_px, errors_px, missing_probability, broken_probability,
                                                missing, broken)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Optics, gaussian_px, disc_px, motion_px, motion_angle_deg, relief_px,
                                                relief_angle_deg, focus_gradient, focus_angle_deg)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Geometry, magnification_x, magnification_y, tilt_x, tilt_y, distortion,
                                                lateral_red, lateral_blue)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Shading, linear_x, linear_y, quadratic, quadratic_xy, vignette, mottle,
                                                mottle_px)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(RoundField, on, x, y, radius_px, softness_px, outside)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Ring, x, y, radius_px, width_px, amplitude)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Body, fibre, points, width_px, taper, scales, scales_period_px,
                                                amplitude, rim_px, middle)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Clutter, dirt, scratches, fibres, texts, bars, strength)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Colour, channels, red, green, blue, mosaic)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Sensor, full_well, read_noise, exposure, pedestal, gamma, sharpen,
                                                sharpen_px, resample, bits, jpeg_quality)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE_WITH_DEFAULT(Scene, width, height, seed, name, ground, scales, no_scale, regular,
                                                optics, geometry, shading, field, ring, bodies, clutter, colour, sensor)

namespace {

/// Every key of `given` must have come back in `kept`, else it would have been ignored in silence.
void check_known(const nlohmann::json& given, const nlohmann::json& kept, const std::string& where) {
  if (given.is_array() && kept.is_array()) {
    for (std::size_t i = 0; i < given.size(); ++i)
      check_known(given[i], kept[i], where + "[" + std::to_string(i) + "]");
    return;
  }
  if (!given.is_object()) {
    if (given.is_string() && given != kept)
      throw std::invalid_argument("unknown value " + given.dump() + " of " + where);
    return;
  }
  for (const auto& [key, value] : given.items()) {
    const std::string name = where.empty() ? key : where + "." + key;
    if (!kept.contains(key)) throw std::invalid_argument("unknown key \"" + name + "\"");
    check_known(value, kept[key], name);
  }
}

}  // namespace

std::string scene_json(const Scene& scene) { return nlohmann::json(scene).dump(2) + "\n"; }

Scene scene_from_json(const std::string& text) {
  try {
    const nlohmann::json given = nlohmann::json::parse(text);
    if (!given.is_object()) throw std::invalid_argument("a scene is a JSON object");
    const Scene scene = given.get<Scene>();
    check_known(given, nlohmann::json(scene), "");
    const std::string problem = why_invalid(scene);
    if (!problem.empty()) throw std::invalid_argument(problem);
    return scene;
  } catch (const nlohmann::json::exception& error) {
    throw std::invalid_argument(error.what());
  }
}

}  // namespace micrograph
