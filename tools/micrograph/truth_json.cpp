#include <nlohmann/json.hpp>

#include "micrograph/files.h"

namespace micrograph {
namespace {

nlohmann::ordered_json line_json(const TruthLine& line) {
  return {{"number", line.number},
          {"x", line.x},
          {"y", line.y},
          {"position_px", line.position},
          {"visible_px", line.visible_px},
          {"error_px", line.error_px},
          {"broken", line.broken}};
}

nlohmann::ordered_json axis_json(const TruthAxis& axis) {
  nlohmann::ordered_json lines = nlohmann::ordered_json::array();
  for (const TruthLine& line : axis.lines) lines.push_back(line_json(line));
  return {{"direction_deg", axis.direction_deg},
          {"pitch_px", axis.pitch_px},
          {"mean_pitch_px", axis.mean_pitch_px},
          {"line_width_px", axis.line_width_px},
          {"pair_offset_px", axis.pair_offset_px},
          {"graduations_in_view", axis.lines.size()},
          {"missing", axis.missing},
          {"graduations", lines}};
}

nlohmann::ordered_json body_json(const TruthBody& body) {
  nlohmann::ordered_json json = {{"kind", body.fibre ? "fibre" : "grain"},
                                 {"x", body.x},
                                 {"y", body.y},
                                 {"at_border", body.at_border},
                                 {"width_px", body.width_px}};
  if (body.fibre)
    json["length_px"] = body.length_px;
  else
    json.update(
        {{"feret_max_px", body.feret_max_px}, {"area_px2", body.area_px2}, {"perimeter_px", body.perimeter_px}});
  json["points"] = body.points;
  return json;
}

}  // namespace

std::string truth_json(const Truth& truth) {
  nlohmann::ordered_json axes = nlohmann::ordered_json::array();
  for (const TruthAxis& axis : truth.axes) axes.push_back(axis_json(axis));
  nlohmann::ordered_json json = {
      {"schema", "micrograph/truth/1"},
      {"class", truth.name},
      {"seed", truth.seed},
      {"width", truth.width},
      {"height", truth.height},
      {"bits", truth.bits},
      {"jpeg_quality", truth.jpeg_quality},
      {"polarity", truth.polarity == Polarity::dark_on_bright ? "dark_on_bright" : "bright_on_dark"},
      {"distorted", truth.distorted},
      {"fair", is_fair(truth)},
      {"blur_px", truth.blur_px},
      {"contrast", truth.contrast},
      {"amplitude", truth.amplitude},
      {"noise_sd", truth.noise_sd},
      {"axes", axes}};
  for (const TruthBody& body : truth.bodies) json["bodies"].push_back(body_json(body));
  return json.dump(1) + "\n";
}

}  // namespace micrograph
