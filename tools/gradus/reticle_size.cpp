#include "reticle_size.h"

#include <scale/reticle.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>

#include "budget_table.h"
#include "lab_options.h"
#include "messages.h"
#include "outputs.h"
#include "reticle_held.h"
#include "reticle_readings.h"
#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

struct Used {
  HeldReticle held;
  std::vector<HeldReticle> sources;  // whose calibrations the factor comes from
  scale::CalibrationFactor factor;
  std::optional<scale::InterpolatedZoom> interpolated;
};

int fail(const std::string& problem) {
  complain(problem);
  return 2;
}

std::pair<double, double> parse_limits(const std::string& text) {
  const std::size_t comma = text.find(',');
  if (comma == std::string::npos)
    throw CLI::ValidationError("--limits", "'" + text + "' is no pair of lengths; write it like 98um,102um");
  const double low = value_or_usage_error(scale::parse_length(text.substr(0, comma)), "--limits").value;
  const double high = value_or_usage_error(scale::parse_length(text.substr(comma + 1)), "--limits").value;
  if (!(low < high)) throw CLI::ValidationError("--limits", "the lower limit comes first, like 98um,102um");
  return {low, high};
}

double parsed_divisions(const std::string& text, const std::string& option) {
  const auto value = parse_divisions(text);
  if (!value) throw CLI::ValidationError(option, value.error());
  if (!(*value >= 0.0) || *value > 1e5) throw CLI::ValidationError(option, "'" + text + "' is no number of divisions");
  return *value;
}

// Set-ups that differ from `setup` in nothing but zoom.
bool same_body(const scale::LabSetup& setup, const scale::LabSetup& other) {
  return setup.microscope == other.microscope && setup.eyepiece == other.eyepiece &&
         setup.conditions.magnification == other.conditions.magnification && other.zoom.has_value();
}

std::string zooms_in_words(const std::vector<scale::ZoomSetting>& settings) {
  std::string text;
  for (const scale::ZoomSetting& setting : settings) text += (text.empty() ? "" : ", ") + shortest(setting.zoom);
  return text.empty() ? "none" : text;
}

// The factor at another zoom setting than the set-up's; `problem` says why there is none.
std::optional<Used> at_zoom(const std::vector<HeldReticle>& all, const HeldReticle& own, const SizeOptions& options,
                            std::string& problem) {
  if (own.setup->microscope.empty()) {
    problem =
        own.setup->name + ": its microscope is not named in the lab file, so its other zoom settings are not known";
    return std::nullopt;
  }
  std::vector<scale::ZoomSetting> settings;
  std::vector<HeldReticle> calibrated;
  for (const HeldReticle& held : all) {
    if (!same_body(*own.setup, *held.setup) || !held.um_per_division) continue;
    if (*held.setup->zoom == *options.zoom) return Used{held, {held}, *held.um_per_division, std::nullopt};
    settings.push_back({*held.setup->zoom, *held.um_per_division});
    calibrated.push_back(held);
  }
  const std::string none = "the zoom setting " + shortest(*options.zoom) + " of " + own.setup->microscope +
                           " is not calibrated (there are " + zooms_in_words(settings) + ")";
  if (!options.interpolate) {
    problem = none + "; calibrate it, or ask for --interpolate";
    return std::nullopt;
  }
  const auto between = scale::interpolate_zoom(settings, *options.zoom, own.setup->zoom_setting.value_or(0.0));
  if (!between) {
    problem = none + " and does not lie between two that are; calibrate it";
    return std::nullopt;
  }
  std::erase_if(calibrated, [&](const HeldReticle& held) {
    return *held.setup->zoom != between->lower && *held.setup->zoom != between->upper;
  });
  return Used{own, std::move(calibrated), between->um_per_division, between};
}

std::optional<Used> used_factor(const std::vector<HeldReticle>& all, const SizeOptions& options, std::string& problem) {
  const auto own =
      std::find_if(all.begin(), all.end(), [&](const HeldReticle& held) { return held.setup->name == options.setup; });
  if (own == all.end()) {
    problem = options.lab + ": there is no set-up '" + options.setup + "' of kind reticle in it";
    return std::nullopt;
  }
  if (options.zoom) return at_zoom(all, *own, options, problem);
  if (own->um_per_division) return Used{*own, {*own}, *own->um_per_division, std::nullopt};
  problem = options.setup + ": the register holds no calibration of it; read the scales and add --record";
  return std::nullopt;
}

std::vector<scale::Warning> warnings_of(const Used& used, const std::chrono::year_month_day& today) {
  std::vector<scale::Warning> list;
  for (const HeldReticle& held : used.sources) {
    const std::string number = std::to_string(held.record);
    const std::string whose = used.interpolated ? held.setup->name + " (record " + number + "): " : "";
    if (!held.budget_complete)
      list.push_back(
          {"budget-incomplete",
           whose + "components that are not stated are not in U; gradus register show " + number + " names them"});
    if (held.due && *held.due < today)
      list.push_back({"overdue", whose + "was due for calibration on " + date_words(*held.due)});
  }
  if (used.interpolated && !used.held.setup->zoom_setting)
    list.push_back({"zoom-setting", "how well the zoom is set again is not stated (zoom_setting) and not in U"});
  return list;
}

std::string limits_words(scale::Conformity conformity, const std::pair<double, double>& limits) {
  const std::string range = shortest(limits.first) + " to " + shortest(limits.second) + " µm";
  switch (conformity) {
    case scale::Conformity::conforms:
      return "Conforms: with U on either side it lies within " + range + ".\n";
    case scale::Conformity::does_not_conform:
      return "Does not conform: with U on either side it lies outside " + range + ".\n";
    case scale::Conformity::undecided:
      break;
  }
  return "Undecided: U reaches over a limit of " + range +
         ", so neither is shown; read both ends more finely "
         "(--estimate), or calibrate better, whichever is more of U.\n";
}

const char* conformity_code(scale::Conformity conformity) {
  if (conformity == scale::Conformity::conforms) return "conforms";
  return conformity == scale::Conformity::undecided ? "undecided" : "does-not-conform";
}

std::string interpolation_words(const scale::InterpolatedZoom& zoom, double at) {
  return "Interpolated at zoom " + shortest(at) + " between " + shortest(zoom.lower) + " and " + shortest(zoom.upper) +
         ", which adds " + percent(zoom.added) + " (standard).\n";
}

struct Answer {
  double divisions = 0.0;
  scale::ReticleLength length;
  std::optional<scale::Conformity> conformity;
};

std::string text_of(const Answer& answer, const Used& used, const SizeOptions& options) {
  std::string text = shortest(answer.divisions) + " divisions of " + printable(options.setup) + " are (" +
                     value_words(answer.length.value, answer.length.expanded_uncertainty) +
                     ") µm, k = " + fixed(answer.length.coverage_factor, 2) + " (95.45 %), each end read to ±" +
                     shortest(options.estimate) + " division.\n";
  if (used.interpolated) text += interpolation_words(*used.interpolated, *options.zoom);
  text += "One division: (" + value_words(used.factor.value, used.factor.expanded_uncertainty) + ") µm" +
          (used.interpolated ? ""
                             : ", record " + std::to_string(used.held.record) + " of " + used.held.date() + ", scale " +
                                   printable(used.held.scale)) +
          ".\n";
  return text + (answer.conformity ? limits_words(*answer.conformity, *options.limits_um) : "");
}

std::string json_of(const Answer& answer, const Used& used, const SizeOptions& options,
                    const std::vector<scale::Warning>& warnings) {
  const auto& zoom = used.interpolated;
  const Json json = {
      {"schema", "gradus/reticle-size/1"},
      {"setup", valid_utf8(options.setup)},
      {"divisions", answer.divisions},
      {"length_um",
       {{"value", answer.length.value},
        {"expanded_uncertainty", answer.length.expanded_uncertainty},
        {"coverage_factor", answer.length.coverage_factor}}},
      {"um_per_division", factor_json(used.factor)},
      {"record", zoom ? Json(nullptr) : Json(used.held.record)},
      {"interpolated",
       zoom ? Json{{"zoom", *options.zoom}, {"lower", zoom->lower}, {"upper", zoom->upper}, {"added", zoom->added}}
            : Json(nullptr)},
      {"verdict", answer.conformity ? Json(conformity_code(*answer.conformity)) : Json(nullptr)},
      {"warnings", list_json(warnings)}};
  return json.dump(2) + '\n';
}

}  // namespace

CLI::App* setup_size(CLI::App& verb, SizeOptions& options) {
  CLI::App* size = verb.add_subcommand("size", "Divisions into micrometres, by the register's calibration");
  size->add_option_function<std::vector<std::string>>(
          "DIVISIONS",
          [&options](const std::vector<std::string>& texts) {
            for (const std::string& text : texts) options.divisions.push_back(parsed_divisions(text, "DIVISIONS"));
          },
          "How many divisions, or the readings at both ends")
      ->type_name("")
      ->required()
      ->expected(1, 2);
  size->add_option("--setup", options.setup, "The set-up of kind reticle")->type_name("NAME")->required();
  size->add_option("--lab", options.lab, "The room's lab file (default: lab.toml in this folder)")->type_name("FILE");
  size->add_option_function<std::string>(
          "--estimate",
          [&options](const std::string& text) {
            options.estimate = parsed_divisions(text, "--estimate");
            if (!(options.estimate > 0.0)) throw CLI::ValidationError("--estimate", "must be above 0, like 0.1");
          },
          "Limits (+-) of a reading, in divisions (0.1)")
      ->type_name("DIVISIONS");
  size->add_option_function<double>(
          "--zoom",
          [&options](double zoom) {
            if (!(zoom > 0.0) || !std::isfinite(zoom))
              throw CLI::ValidationError("--zoom", "must be a number above 0, like 1.5");
            options.zoom = zoom;
          },
          "Zoom setting, where it is not the set-up's own")
      ->type_name("Z");
  size->add_flag("--interpolate", options.interpolate, "Let the zoom lie between two calibrated settings");
  size->add_option_function<std::string>(
          "--limits", [&options](const std::string& text) { options.limits_um = parse_limits(text); },
          "Does the length conform? Decided with U as guard band (ISO 14253-1): 98um,102um")
      ->type_name("LOW,HIGH");
  size->add_option("--at", options.at, "Time in UTC, like 2026-02-28T09:30:00Z (default: now)")->type_name("TIME");
  size->add_option("--json", options.json, "Write the result as JSON; - is standard output")->type_name("FILE");
  size->final_callback([&options] {
    if (options.interpolate && !options.zoom) throw CLI::ValidationError("--interpolate needs a --zoom setting");
    if (!options.at.empty() && !scale::is_utc_time(options.at))
      throw CLI::ValidationError("--at", "'" + options.at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z");
  });
  return size;
}

int run_size(const SizeOptions& options) {
  Answer answer;
  answer.divisions =
      options.divisions.size() == 2 ? std::abs(options.divisions[1] - options.divisions[0]) : options.divisions.front();
  if (!(answer.divisions > 0.0)) return fail("a length of no divisions; give their number, or two different readings");
  std::vector<std::string> problems;
  const std::optional<LabRoom> room = read_lab_room(options.lab, problems);
  if (!room) {
    for (const std::string& line : problems) complain(line);
    return 2;
  }
  std::string problem;
  const std::vector<HeldReticle> all = held_reticles(*room, problem);
  const std::optional<Used> used = problem.empty() ? used_factor(all, options, problem) : std::nullopt;
  if (!used) return fail(problem);
  if (const std::string wrong = output_problem({options.json, "", ""}, {}); !wrong.empty()) return fail(wrong);
  answer.length = scale::reticle_length(answer.divisions, used->factor, options.estimate);
  if (options.limits_um)
    answer.conformity = scale::conformity(answer.length.value, answer.length.expanded_uncertainty,
                                          options.limits_um->first, options.limits_um->second);
  const std::string now = options.at.empty() ? utc_now() : options.at;
  const auto warnings = warnings_of(*used, scale::parse_date(std::string_view(now).substr(0, 10)).value());
  for (const scale::Warning& warning : warnings) warn(options.setup + ": " + warning.message);
  if (!options.json.empty())
    if (const std::string wrong = deliver(options.json, json_of(answer, *used, options, warnings)); !wrong.empty())
      return fail(wrong);
  if (options.json != "-")
    if (const std::string wrong = deliver("-", text_of(answer, *used, options)); !wrong.empty()) return fail(wrong);
  return answer.conformity && *answer.conformity != scale::Conformity::conforms ? 1 : 0;
}

}  // namespace gradus
