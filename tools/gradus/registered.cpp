#include "registered.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <nlohmann/json.hpp>

#include "file_statement.h"
#include "flags.h"

namespace gradus {
namespace {

using Json = nlohmann::json;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double freedom_of(const Json& json) { return json.is_number() ? json.get<double>() : kInfinity; }

// Sums of squared weights: of all rulings, and of all shots with their rulings, as they enter the mean of both
// directions; and of one direction alone.
struct Weights {
  double rulings = 0.0, shots = 0.0, x = 0.0, y = 0.0;
};

Weights weights_of(const Json& result) {
  Weights weights;
  std::map<std::string, double> shots;
  for (const Json& shot : result.at("shots")) {
    const double weight = shot.at("weight");
    if (!shot.at("used")) continue;
    (shot.at("direction") == "x" ? weights.x : weights.y) += weight * weight;
    shots[shot.at("image").get<std::string>()] += weight;
  }
  const double share = weights.x > 0.0 && weights.y > 0.0 ? 0.25 : 1.0;
  weights.rulings = share * (weights.x + weights.y);
  for (const auto& [image, weight] : shots) weights.shots += share * weight * weight;
  return weights;
}

// Of the factor along one direction fit and repeatability weigh more than of the mean of both, the rest is alike.
scale::FactorAlong along(const Json& result, double factor, double squares, const Weights& weights, bool for_both) {
  scale::FactorAlong along{factor, {}};
  const double whole = result.at("um_per_pixel").at("value");
  for (const Json& line : result.at("budget")) {
    const std::string component = line.at("component");
    if (!line.at("stated") || (component == "x-y difference" && !for_both)) continue;
    const double of_both = component == "fit" ? weights.rulings : component == "repeatability" ? weights.shots : 0.0;
    const double more = of_both > 0.0 && !for_both ? std::sqrt(squares / of_both) : 1.0;
    along.parts.push_back({component, more * line.at("contribution_um_per_pixel").get<double>() / whole,
                           freedom_of(line.at("degrees_of_freedom"))});
  }
  return along;
}

void add_factors(scale::RegisteredSetup& setup, const Json& result) {
  const Weights weights = weights_of(result);
  setup.both = along(result, result.at("um_per_pixel").at("value"), 0.0, weights, true);
  if (result.at("x").is_object()) setup.x = along(result, result["x"].at("value"), weights.x, weights, false);
  if (result.at("y").is_object()) setup.y = along(result, result["y"].at("value"), weights.y, weights, false);
  for (const scale::UncertaintyPart& part : setup.both->parts) {
    if (part.component != "repeatability" || weights.shots <= 0.0) continue;
    setup.repeatability = part.relative / std::sqrt(weights.shots);
    setup.repeatability_freedom = part.degrees_of_freedom;
  }
}

void add_ruling(scale::RegisteredSetup& setup, const Json& ruling) {
  const double direction = ruling.at("direction_deg");
  const Json& positions = ruling.at("position_px");
  if (positions.empty()) return;
  setup.directions_deg.push_back(direction);
  setup.nonlinearities_px.push_back(ruling.value("nonlinearity_max_px", 0.0));
  if (ruling.contains("edge_blur_px")) setup.blurs_px.push_back(ruling["edge_blur_px"]);
  setup.seen.push_back({std::abs(direction) <= 45.0 ? 0.0 : 1.0, positions.front(), positions.back()});
}

void add_inputs(scale::RegisteredSetup& setup, const Json& inputs) {
  bool one_size = true;
  for (const Json& input : inputs) {
    const int width = input.at("width"), height = input.at("height");
    for (const Json& ruling : input.at("rulings")) add_ruling(setup, ruling);
    if (input.contains("file")) setup.files.push_back(statement_of(input["file"], width, height));
    if (!setup.size) setup.size = {width, height};
    one_size = one_size && *setup.size == std::array<int, 2>{width, height};
  }
  if (!one_size) setup.size.reset();
}

void add_lab(scale::RegisteredSetup& setup, const scale::LabSetup& lab) {
  setup.name = lab.name;
  setup.tolerance = lab.tolerance;
  setup.magnification = lab.conditions.magnification;
  setup.optics_tolerance = optics_tolerance(lab);
  if (lab.image_size) setup.size = lab.image_size;
  // A binning counts only where it is said to make a pixel.
  if (lab.pixel_pitch) setup.binning = lab.binning;
  for (const scale::FileStatement& file : setup.files)
    if (file.binning) setup.binning = file.binning;
}

// The factor is the mean over the area that was meant when it was calibrated.
void add_distortion(scale::RegisteredSetup& setup, const Json& result, const scale::LabSetup& then) {
  const Json& separation = result.at("separation");
  if (!separation.value("done", false) || !separation.value("significant", false)) return;
  setup.kappa = separation.at("distortion").get<double>();
  if (then.conditions.measuring_area)
    setup.area = then.conditions.measuring_area;
  else if (setup.size)
    setup.area = scale::MeasuringArea{0.0, 0.0, (*setup.size)[0] - 1.0, (*setup.size)[1] - 1.0};
}

scale::Failure broken(const LabRoom& room, const std::string& problem) {
  return {"register", "damaged",
          room.register_path() + ": " + problem +
              "; nothing is held against a register that was altered: compare it with a copy or an export"};
}

// The set-up of a calibration's record: what can be read of it. Nothing when the content is none of a camera.
std::optional<scale::RegisteredSetup> registered_setup(const Json& json, const scale::LabSetup& lab,
                                                       const scale::LabSetup& then) {
  if (!json.is_object() || !json.contains("result")) return std::nullopt;
  const Json& result = json["result"];
  if (!result.contains("um_per_pixel") || !result["um_per_pixel"].is_object() || !result.contains("shots"))
    return std::nullopt;
  scale::RegisteredSetup setup;
  setup.scale = json.value("scale", "");
  add_factors(setup, result);
  add_inputs(setup, json.value("inputs", Json::array()));
  add_lab(setup, lab);
  add_distortion(setup, result, then);
  return setup;
}

}  // namespace

std::optional<scale::LabSetup> setup_then(const scale::Register& reg, const scale::Record& record,
                                          const std::string& name) {
  if (!record.draft.about) return std::nullopt;
  const auto lab_file = reg.show(*record.draft.about);
  if (!lab_file) return std::nullopt;
  const scale::LabFile then = scale::parse_lab(lab_file->record.draft.content);
  if (!then.lab) return std::nullopt;
  for (const scale::LabSetup& old : then.lab->setups)
    if (old.name == name) return old;
  return std::nullopt;
}

scale::Registered<RegisteredRoom> registered_room(const LabRoom& room) {
  const auto reg = scale::Register::open(room.register_path(), scale::RegisterUse::read);
  if (!reg && reg.error().code == "missing")
    return tl::unexpected(scale::Failure{"register", "missing",
                                         room.register_path() + ": there is no register to hold images against; "
                                                                "calibrate the room with --record first"});
  if (!reg) return tl::unexpected(reg.error());
  const auto verified = reg->verify();
  if (!verified) return tl::unexpected(verified.error());
  if (!verified->problem.empty()) return tl::unexpected(broken(room, verified->problem));
  auto records = reg->list();
  if (!records) return tl::unexpected(records.error());
  RegisteredRoom registered;
  registered.records = std::move(*records);
  if (!registered.records.empty()) registered.last_made_at = registered.records.back().record.draft.made_at;
  for (const scale::LabSetup& lab : room.lab.setups) {
    scale::RegisteredSetup none;
    add_lab(none, lab);
    registered.setups.push_back(none);
    registered.record.emplace_back();
    registered.due.emplace_back();
    const auto current = reg->current_calibration(lab.name);
    if (!current) return tl::unexpected(current.error());
    if (!*current) continue;
    const Json content = Json::parse((*current)->draft.content, nullptr, false);
    auto setup = registered_setup(content, lab, setup_then(*reg, **current, lab.name).value_or(lab));
    if (!setup) continue;
    registered.setups.back() = std::move(*setup);
    registered.record.back() = (*current)->number;
    const Json due = content["result"].value("due", Json());
    if (due.is_string()) registered.due.back() = due;
  }
  return registered;
}

}  // namespace gradus
