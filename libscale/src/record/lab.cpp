#include <scale/lab.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>

#include "numeric/fixed_text.h"
#include "record/deep_key.h"
#include "record/section.h"

namespace scale {
namespace {

using record::Section;

constexpr int kSchema = 1;
// More than a person can act upon at once.
constexpr std::size_t kMostProblems = 50;

// Linear expansion near room temperature; the limits are a judgement on how far glasses of one name differ.
// soda-lime: a data sheet, 9.1e-6; borosilicate and fused silica: tables of materials.
const std::map<std::string, Expansion> kMaterials = {
    {"soda-lime", {9.1e-6, 0.9e-6}}, {"borosilicate", {3.3e-6, 0.3e-6}}, {"fused silica", {0.55e-6, 0.1e-6}}};

std::string of(const std::string& kind, const toml::table& table, std::size_t place) {
  const auto* name = table.get_as<std::string>("name");
  return kind + "." + (name != nullptr && !name->get().empty() ? name->get() : std::to_string(place + 1));
}

std::optional<RoomTemperature> temperature_of(Section& section) {
  const toml::table* table = section.table("temperature");
  if (table == nullptr) return std::nullopt;
  Section inner(*table, section.path() + ".temperature", section.problems());
  const auto value = inner.quantity("value", parse_temperature);
  const auto limits = inner.quantity("limits", parse_temperature_difference);
  inner.require(value.has_value(), "value", "\"21 degC\"");
  inner.require(limits.has_value(), "limits", "\"2 degC\"");
  inner.finish();
  if (!value || !limits) return std::nullopt;
  return RoomTemperature{*value, *limits};
}

std::optional<CertifiedUncertainty> uncertainty_of(Section& section) {
  const auto k = section.number("coverage_factor", 0.0, 10.0);
  const auto independent = section.flag("independent_positions");
  const toml::node* node = section.node("expanded_uncertainty");
  if (node == nullptr) {
    if (k || independent)
      section.complain(k ? "coverage_factor" : "independent_positions", "says nothing without an expanded_uncertainty");
    return std::nullopt;
  }
  const std::size_t problems = section.problems().size();
  CertifiedUncertainty stated;
  stated.coverage_factor = k.value_or(2.0);
  stated.independent_positions = independent.value_or(false);
  if (node->is_table()) {
    Section inner(*node->as_table(), section.path() + ".expanded_uncertainty", section.problems());
    stated.constant = inner.quantity("constant", parse_deviation).value_or(Micrometres{});
    stated.per_length = inner.number("per_length", 0.0, 0.1).value_or(0.0);
    inner.finish();
  } else {
    stated.constant = section.quantity("expanded_uncertainty", parse_length).value_or(Micrometres{});
  }
  if (section.problems().size() > problems) return std::nullopt;
  if (stated.constant.value < 0.0 || (stated.constant.value == 0.0 && stated.per_length == 0.0)) {
    section.complain("expanded_uncertainty", "must be above nothing; write it like \"0.15um\"");
    return std::nullopt;
  }
  return stated;
}

std::optional<Correction> correction_of(const toml::node& row) {
  const toml::array* pair = row.as_array();
  if (pair == nullptr || pair->size() != 2) return std::nullopt;
  const auto* position = pair->get_as<std::string>(0);
  const auto* deviation = pair->get_as<std::string>(1);
  if (position == nullptr || deviation == nullptr) return std::nullopt;
  const auto at = parse_deviation(position->get());
  const auto off = parse_deviation(deviation->get());
  if (!at || !off) return std::nullopt;
  return Correction{*at, *off};
}

std::string what_is_wrong(const std::vector<Correction>& before, const Correction& row, const ReferenceScale& scale) {
  const double length = scale.divisions * scale.division.value;
  if (row.position.value < 0.0 || (length > 0.0 && row.position.value > length * (1.0 + 1e-9)))
    return "has a position beyond the scale";
  if (!before.empty() && row.position.value <= before.back().position.value)
    return "is out of order; positions must grow from row to row";
  if (scale.division.value > 0.0 && std::abs(row.deviation.value) > 0.5 * scale.division.value)
    return "has a deviation of more than half a division; write deviations, not certified positions";
  return "";
}

std::vector<Correction> corrections_of(Section& section, const ReferenceScale& scale) {
  std::vector<Correction> corrections;
  const toml::array* rows = section.array("corrections");
  if (rows == nullptr) return corrections;
  for (const toml::node& row : *rows) {
    const auto correction = correction_of(row);
    const std::string wrong = correction ? what_is_wrong(corrections, *correction, scale)
                                         : "is no pair of lengths with units, like [\"500um\", \"0.04um\"]";
    if (!wrong.empty()) {
      section.problems().push_back({static_cast<int>(row.source().begin.line), section.path() + ".corrections",
                                    "row " + std::to_string(corrections.size() + 1) + " " + wrong});
      return {};
    }
    corrections.push_back(*correction);
  }
  if (corrections.size() < 2) section.complain("corrections", "needs two rows or more");
  return corrections;
}

std::optional<Expansion> expansion_of(Section& section) {
  const auto material = section.text("material");
  const toml::table* table = section.table("expansion");
  if (table != nullptr && material) section.complain("expansion", "is stated beside material; leave one of them out");
  if (table != nullptr) {
    Section inner(*table, section.path() + ".expansion", section.problems());
    const auto value = inner.quantity("value", parse_expansion), limits = inner.quantity("limits", parse_expansion);
    inner.require(value.has_value(), "value", "\"9.1e-6 /K\"");
    inner.require(limits.has_value(), "limits", "\"0.9e-6 /K\"");
    inner.finish();
    if (value && limits) return Expansion{*value, std::abs(*limits)};
    return std::nullopt;
  }
  if (!material) return std::nullopt;
  if (const auto known = kMaterials.find(*material); known != kMaterials.end()) return known->second;
  section.complain("material", "is none of soda-lime, borosilicate, fused silica; give its expansion instead");
  return std::nullopt;
}

FreeEnds free_ends_of(Section& section) {
  const auto written = section.text("free_ends");
  if (!written || *written == "unknown") return FreeEnds::unknown;
  if (*written == "up") return FreeEnds::up;
  if (*written == "down") return FreeEnds::down;
  section.complain("free_ends", "must be \"up\", \"down\" or \"unknown\"");
  return FreeEnds::unknown;
}

LabScale scale_of(Section& section) {
  LabScale scale;
  const auto name = section.text("name");
  const auto division = section.quantity("division", parse_length);
  const auto divisions = section.integer("divisions", 2, 100000);
  section.require(name.has_value(), "name", "\"SM-A\"");
  section.require(division.has_value(), "division", "\"10um\"");
  section.require(divisions.has_value(), "divisions", "100");
  scale.name = name.value_or("");
  scale.reference.division = division.value_or(Micrometres{});
  scale.reference.divisions = divisions.value_or(0);
  scale.reference.long_every = section.integer("long_every", 0, 1000).value_or(10);
  scale.reference.free_ends = free_ends_of(section);
  scale.reference.uncertainty = uncertainty_of(section);
  scale.reference.corrections = corrections_of(section, scale.reference);
  scale.reference.graduation_errors = section.quantity("graduation_errors", parse_length);
  if (scale.reference.graduation_errors && !scale.reference.corrections.empty())
    section.complain("graduation_errors", "says nothing beside corrections, which take the errors out; leave it out");
  scale.reference.expansion = expansion_of(section);
  scale.reference.certificate_temperature =
      section.quantity("certificate_temperature", parse_temperature).value_or(20.0);
  scale.line_width = section.quantity("line_width", parse_length);
  scale.serial = section.text("serial").value_or("");
  scale.certificate = section.text("certificate").value_or("");
  scale.laboratory = section.text("laboratory").value_or("");
  scale.calibrated = section.date("calibrated");
  scale.recalibrate_by = section.date("recalibrate_by");
  if (scale.calibrated && scale.recalibrate_by && *scale.recalibrate_by <= *scale.calibrated)
    section.complain("recalibrate_by", "is not after the day it was calibrated");
  section.finish();
  return scale;
}

StatedComponents stated_of(Section& section) {
  StatedComponents stated;
  const toml::table* table = section.table("budget");
  if (table == nullptr) return stated;
  Section inner(*table, section.path() + ".budget", section.problems());
  stated.repeatability = inner.quantity("repeatability", parse_share);
  stated.field = inner.quantity("field", parse_share);
  stated.x_y_difference = inner.quantity("x_y_difference", parse_share);
  stated.refocusing = inner.quantity("refocusing", parse_share);
  stated.slope = inner.quantity("slope", parse_tilt);
  inner.finish();
  return stated;
}

template <std::size_t count>
std::optional<std::array<int, count>> whole_numbers(Section& section, const std::string& key, int least) {
  const toml::array* list = section.array(key);
  if (list == nullptr) return std::nullopt;
  std::array<int, count> numbers{};
  bool good = list->size() == count;
  for (std::size_t i = 0; good && i < count; ++i) {
    const auto* value = list->get_as<std::int64_t>(i);
    good = value != nullptr && value->get() >= least && value->get() <= 1'000'000;
    if (good) numbers[i] = static_cast<int>(value->get());
  }
  if (good) return numbers;
  section.complain(key, "must be " + std::to_string(count) + " whole numbers of pixels");
  return std::nullopt;
}

std::optional<std::array<int, 4>> region_of(Section& section, const std::string& key) {
  const auto region = whole_numbers<4>(section, key, 0);
  if (region && ((*region)[2] < 1 || (*region)[3] < 1))
    section.complain(key, "must be [left, top, width, height] in pixels");
  return region;
}

std::optional<LabBar> scale_bar_of(Section& section) {
  const toml::table* table = section.table("scale_bar");
  if (table == nullptr) return std::nullopt;
  Section inner(*table, section.path() + ".scale_bar", section.problems());
  const auto region = region_of(inner, "region");
  const auto length = inner.quantity("length", parse_length);
  inner.require(region.has_value(), "region", "[900, 880, 360, 70]");
  inner.require(length.has_value(), "length", "\"100um\"");
  inner.finish();
  if (!region || !length) return std::nullopt;
  return LabBar{*region, *length};
}

std::optional<double> gamma_of(Section& section) {
  const toml::node* node = section.node("gamma");
  if (node == nullptr) return std::nullopt;
  std::optional<double> gamma = node->value<double>();
  if (const auto word = node->value<std::string>()) gamma = gamma_named(*word);
  if (gamma && *gamma >= kLeastGamma && *gamma <= kMostGamma) return gamma;
  section.complain("gamma", "must be \"linear\", \"srgb\" or an exponent from " + numeric::fixed(kLeastGamma, 1) +
                                " to " + numeric::fixed(kMostGamma, 1));
  return std::nullopt;
}

void read_optics(Section& section, LabSetup& setup) {
  if (const toml::table* table = section.table("objective")) {
    Section inner(*table, section.path() + ".objective", section.problems());
    setup.conditions.magnification = inner.number("magnification", 0.0, 1000.0);
    setup.conditions.aperture = inner.number("aperture", 0.0, 1.7);
    inner.finish();
  }
  setup.microscope = section.text("microscope").value_or("");
  setup.camera = section.text("camera").value_or("");
  setup.eyepiece = section.text("eyepiece").value_or("");
  setup.reticle_pitch = section.quantity("reticle_pitch", parse_length);
  setup.reticle_divisions = section.integer("reticle_divisions", 2, 10000).value_or(0);
  setup.parallax = section.number("parallax", 0.0, 10.0).value_or(0.0);
  setup.zoom_setting = section.quantity("zoom_setting", parse_share);
  setup.relay = section.number("relay", 0.0, 100.0);
  setup.zoom = section.number("zoom", 0.0, 100.0);
  setup.pixel_pitch = section.quantity("pixel_pitch", parse_length);
  setup.binning = section.integer("binning", 1, 64).value_or(1);
  setup.image_size = whole_numbers<2>(section, "image_size", 1);
  setup.check_region = region_of(section, "check_region");
  setup.scale_bar = scale_bar_of(section);
  setup.mirrored = section.flag("mirrored").value_or(false);
  setup.gamma = gamma_of(section);
}

void read_conditions(Section& section, LabSetup& setup) {
  setup.conditions.room = temperature_of(section);
  setup.conditions.refocused_between_shots = section.flag("refocused").value_or(false);
  setup.conditions.stated = stated_of(section);
  const auto area = whole_numbers<4>(section, "measuring_area", 0);
  if (!area) return;
  const auto& [x, y, width, height] = *area;
  const auto& size = setup.image_size;
  if (width < 1 || height < 1 || (size && (x + width > (*size)[0] || y + height > (*size)[1])))
    section.complain("measuring_area", "must be [left, top, width, height] inside the picture");
  setup.conditions.measuring_area =
      MeasuringArea{static_cast<double>(x), static_cast<double>(y), width - 1.0, height - 1.0};
}

NumbersRun numbers_run_of(Section& section) {
  const auto written = section.text("numbers_run");
  if (!written) return NumbersRun::unknown;
  const std::map<std::string, NumbersRun> ways = {
      {"right", NumbersRun::right}, {"left", NumbersRun::left}, {"up", NumbersRun::up}, {"down", NumbersRun::down}};
  if (const auto way = ways.find(*written); way != ways.end()) return way->second;
  section.complain("numbers_run", "must be \"right\", \"left\", \"up\" or \"down\"");
  return NumbersRun::unknown;
}

std::vector<LabShots> shots_of(Section& section) {
  std::vector<LabShots> shots;
  const toml::array* list = section.array("shots");
  if (list == nullptr) return shots;
  for (const toml::node& node : *list) {
    if (!node.is_table()) {
      section.complain("shots", "must be a list of tables like { image = \"10x/a.*\", centre = \"400um\" }");
      return {};
    }
    Section inner(*node.as_table(), section.path() + ".shots", section.problems());
    const auto image = inner.text("image");
    const auto centre = inner.quantity("centre", parse_deviation);
    const NumbersRun run = numbers_run_of(inner);
    inner.require(image.has_value(), "image", "\"10x/a.*\"");
    inner.require(centre || run != NumbersRun::unknown, "centre", "\"400um\"");
    inner.finish();
    if (image) shots.push_back({*image, centre, run});
  }
  return shots;
}

void read_tolerances(Section& section, LabSetup& setup) {
  setup.tolerance = section.quantity("tolerance", parse_share);
  setup.recalibrate_every_days = section.quantity("recalibrate_every", parse_days);
  setup.objective_tolerance = section.quantity("objective_tolerance", parse_share).value_or(0.05);
  setup.relay_tolerance = section.quantity("relay_tolerance", parse_share).value_or(0.0);
  setup.tube_lens_tolerance = section.quantity("tube_lens_tolerance", parse_share).value_or(0.0);
}

void set_scale(Section& section, LabSetup& setup, const std::vector<LabScale>& scales) {
  const auto name = section.text("scale");
  section.require(name.has_value(), "scale", "\"the name of a [[scale]]\"");
  if (!name) return;
  const auto found = std::find_if(scales.begin(), scales.end(), [&](const LabScale& s) { return s.name == *name; });
  if (found == scales.end()) {
    std::string names;
    for (const LabScale& scale : scales) names += (names.empty() ? "" : ", ") + scale.name;
    section.complain("scale", "names no [[scale]] of this file; there is " + (names.empty() ? "none" : names));
    return;
  }
  setup.scale = static_cast<std::size_t>(found - scales.begin());
}

LabSetup setup_of(Section& section, const std::vector<LabScale>& scales) {
  LabSetup setup;
  const auto name = section.text("name");
  section.require(name.has_value(), "name", "\"wool-10x\"");
  setup.name = name.value_or("");
  const auto kind = section.text("kind").value_or("camera");
  if (kind != "camera" && kind != "reticle") section.complain("kind", "must be \"camera\" or \"reticle\"");
  setup.reticle = kind == "reticle";
  setup.images = section.texts("images");
  if (!setup.reticle) section.require(!setup.images.empty(), "images", "[\"10x/*\", \"*_10x.*\"]");
  setup.check_images = section.texts("check_images");
  setup.check_base = static_cast<std::size_t>(section.integer("check_base", 3, 100000).value_or(0));
  set_scale(section, setup, scales);
  read_optics(section, setup);
  read_conditions(section, setup);
  read_tolerances(section, setup);
  setup.shots = shots_of(section);
  section.finish();
  return setup;
}

// Names that are given twice, and globs of which one takes in all that another set-up claims.
void check_rivals(const Lab& lab, const std::vector<int>& scale_lines, const std::vector<int>& lines,
                  std::vector<LabProblem>& problems) {
  for (std::size_t i = 0; i < lab.setups.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      const LabSetup &later = lab.setups[i], &earlier = lab.setups[j];
      if (later.name == earlier.name && !later.name.empty())
        problems.push_back({lines[i], "setup." + later.name, "is there twice; give each set-up a name of its own"});
      for (const std::string& one : later.images)
        for (const std::string& other : earlier.images)
          if (matches_glob(one, other) || matches_glob(other, one))
            problems.push_back({lines[i], "setup." + later.name + ".images",
                                "\"" + one + "\" overlaps \"" + other + "\" of " + earlier.name +
                                    "; an image can belong to one set-up only"});
    }
  for (std::size_t i = 0; i < lab.scales.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (lab.scales[i].name == lab.scales[j].name && !lab.scales[i].name.empty())
        problems.push_back(
            {scale_lines[i], "scale." + lab.scales[i].name, "is there twice; give each scale a name of its own"});
}

// The tables of [[kind]], each with its section.
template <class Read>
void for_each_table(Section& root, const std::string& kind, const Read& read) {
  const toml::array* list = root.array(kind);
  if (list == nullptr) return;
  for (std::size_t i = 0; i < list->size(); ++i) {
    const toml::table* table = (*list)[i].as_table();
    if (table == nullptr) {
      root.complain(kind, "must be written as [[" + kind + "]] with its keys beneath");
      return;
    }
    Section section(*table, of(kind, *table, i), root.problems());
    read(section);
  }
}

Lab read_lab(const toml::table& root, std::vector<LabProblem>& problems) {
  Lab lab;
  Section section(root, "", problems);
  const auto schema = section.integer("schema", 1, 1'000'000);
  section.require(schema.has_value(), "schema", "1");
  if (schema && *schema != kSchema)
    section.complain("schema", "is of a newer program; update gradus, or write schema = 1");
  std::optional<RoomTemperature> temperature;
  if (const toml::table* room = section.table("room")) {
    Section inner(*room, "room", problems);
    lab.room = inner.text("name").value_or("");
    lab.laboratory = inner.text("laboratory").value_or("");
    lab.address = inner.text("address").value_or("");
    temperature = temperature_of(inner);
    inner.finish();
  }
  std::vector<int> scale_lines, lines;
  for_each_table(section, "scale", [&](Section& table) {
    lab.scales.push_back(scale_of(table));
    scale_lines.push_back(table.line());
  });
  for_each_table(section, "setup", [&](Section& table) {
    lab.setups.push_back(setup_of(table, lab.scales));
    lines.push_back(table.line());
    if (!lab.setups.back().conditions.room) lab.setups.back().conditions.room = temperature;
  });
  for (const auto& [kind, none] : {std::pair{"scale", lab.scales.empty()}, std::pair{"setup", lab.setups.empty()}})
    if (none && !root.contains(kind))
      section.complain(kind, std::string("is missing; write [[") + kind + "]] with its keys beneath");
  section.finish();
  // Each is held against each: not worth it for a file that is put right first.
  if (problems.size() < kMostProblems) check_rivals(lab, scale_lines, lines, problems);
  return lab;
}

}  // namespace

LabFile parse_lab(std::string_view text) {
  LabFile file;
  if (const int line = record::line_of_deep_key(text); line > 0) {
    file.problems.push_back({line, "",
                             "a key of more than " + std::to_string(record::kDeepestKey) +
                                 " parts, joined by dots, which no key of a lab file has; correct it there"});
    return file;
  }
  try {
    const toml::table root = toml::parse(text);
    Lab lab = read_lab(root, file.problems);
    if (file.problems.empty()) file.lab = std::move(lab);
  } catch (const toml::parse_error& error) {
    const auto line = error.source().begin.line;
    file.problems.push_back({static_cast<int>(line), record::key_on_line(text, line),
                             "cannot be read: " + std::string(error.description()) + "; correct the file there"});
  }
  std::stable_sort(file.problems.begin(), file.problems.end(),
                   [](const LabProblem& a, const LabProblem& b) { return a.line < b.line; });
  if (file.problems.size() > kMostProblems) file.problems.resize(kMostProblems);
  return file;
}

std::optional<double> gamma_named(std::string_view word) {
  if (word == "linear") return 1.0;
  if (word == "srgb") return 2.2;
  return std::nullopt;
}

std::optional<MicrometresPerPixel> LabSetup::nominal() const {
  if (!pixel_pitch || !conditions.magnification) return std::nullopt;
  return nominal_factor(*pixel_pitch, binning, *conditions.magnification, relay.value_or(1.0), zoom.value_or(1.0));
}

std::optional<Micrometres> LabSetup::nominal_division() const {
  if (!reticle_pitch || !conditions.magnification) return std::nullopt;
  return Micrometres{reticle_pitch->value / (*conditions.magnification * zoom.value_or(1.0))};
}

}  // namespace scale
