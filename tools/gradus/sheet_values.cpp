#include "sheet_values.h"

#include <scale/reticle.h>

#include <algorithm>
#include <limits>

#include "text.h"

namespace gradus {
namespace {

using nlohmann::json;

constexpr std::size_t kMostResidualCharts = 8;

double freedom_from(const json& value) {
  return value.is_null() ? std::numeric_limits<double>::infinity() : value.get<double>();
}

scale::Distribution distribution_named(const std::string& name) {
  using scale::Distribution;
  for (const Distribution one : {Distribution::normal, Distribution::student_t, Distribution::rectangular,
                                 Distribution::triangular, Distribution::arcsine, Distribution::curvilinear_trapezoid})
    if (name == scale::name_of(one)) return one;
  return Distribution::normal;
}

std::vector<scale::BudgetLine> budget_from(const json& list, const char* contribution) {
  std::vector<scale::BudgetLine> budget;
  for (const json& item : list) {
    scale::BudgetLine line;
    line.input.name = item.at("component");
    line.stated = item.at("stated");
    line.unit = item.at("unit");
    line.basis = item.at("basis");
    if (line.stated) {
      line.input.value = item.at("value");
      line.input.standard_uncertainty = item.at("standard_uncertainty");
      line.input.distribution = distribution_named(item.at("distribution"));
      line.input.degrees_of_freedom = freedom_from(item.at("degrees_of_freedom"));
      line.input.sensitivity = item.at("sensitivity");
      line.contribution = item.at(contribution);
    }
    budget.push_back(std::move(line));
  }
  return budget;
}

std::vector<scale::Warning> warnings_from(const json& list) {
  std::vector<scale::Warning> warnings;
  for (const json& item : list) warnings.push_back({item.at("code"), item.at("message")});
  return warnings;
}

std::string separation_words(const json& separation) {
  if (!separation.is_object()) return "";
  if (!separation.at("done").get<bool>())
    return "Optics and scale were not told apart: " + separation.value("reason", "") + ".";
  const bool significant = separation.at("significant");
  return std::string(
             "The scale was moved between shots, so that the optics' distortion could be told from the scale's "
             "own errors: ") +
         (significant ? "a distortion was found; the optics depart from an even scale by at most " +
                            fixed(separation.at("optics_max_um"), 3) + " µm over the measuring area."
                      : "no distortion was found that its uncertainty does not explain.") +
         " The scale's own graduations lie " + fixed(separation.at("graduations_rms_um"), 3) +
         " µm (rms) from the places taken for them.";
}

const scale::LabSetup* setup_named(const scale::Lab& lab, const std::string& name) {
  const auto found = std::find_if(lab.setups.begin(), lab.setups.end(),
                                  [&](const scale::LabSetup& setup) { return setup.name == name; });
  return found == lab.setups.end() ? nullptr : &*found;
}

std::string state_word(const scale::ListedRecord& listed) {
  return listed.withdrawn_by ? "withdrawn" : listed.superseded_by ? "superseded" : "current";
}

void add_history(scale::CalibrationSheet& sheet, const RegisterFacts& facts, const std::string& setup,
                 const std::string& factor_key) {
  const json::json_pointer place("/result/" + factor_key);
  for (const scale::ListedRecord& listed : facts.records) {
    const scale::RecordDraft& draft = listed.record.draft;
    if (draft.kind != "calibration" || draft.setup != setup) continue;
    const json content = json::parse(draft.content, nullptr, false);
    if (content.is_discarded() || !content.contains(place / "value")) continue;
    const scale::CalibrationFactor factor = factor_from(content.at(place));
    sheet.history.push_back(
        {listed.record.number, draft.made_at, factor.value, factor.expanded_uncertainty, state_word(listed)});
  }
}

void add_lab(scale::CalibrationSheet& sheet, const SheetSource& source) {
  if (!source.lab) return;
  sheet.room = source.lab->room;
  sheet.laboratory = source.lab->laboratory;
  sheet.address = source.lab->address;
  const scale::LabSetup* setup = setup_named(*source.lab, source.setup);
  if (setup == nullptr) return;
  sheet.setup = *setup;
  sheet.scale = source.lab->scales[setup->scale];
}

void add_shots(scale::CalibrationSheet& sheet, const std::vector<RecordedShot>& shots) {
  scale::ReferenceScale reference;
  if (sheet.scale) reference = sheet.scale->reference;
  if (!sheet.scale) reference = sheet.stated.reference;
  for (const RecordedShot& shot : shots) {
    sheet.width = shot.width, sheet.height = shot.height;
    for (const RecordedRuling& recorded : shot.rulings) {
      sheet.shots.push_back(recorded.factor);
      if (sheet.residuals.size() < kMostResidualCharts)
        sheet.residuals.push_back(residuals_of(shot, recorded, reference));
    }
  }
  sheet.field = local_scales(shots, reference);
}

std::optional<scale::CalibrationFactor> optional_factor(const json& result, const char* key) {
  if (!result.contains(key) || result.at(key).is_null()) return std::nullopt;
  return factor_from(result.at(key));
}

// Readings by eye against the micrometer with this division.
scale::SheetReadings readings_from(const json& result, double division_um) {
  scale::SheetReadings readings;
  readings.chi_squared = result.at("chi_squared").at("value");
  readings.chi_squared_freedom = result.at("chi_squared").at("degrees_of_freedom");
  readings.reading_uncertainty = result.at("um_per_division").at("reading_uncertainty");
  for (const json& item : result.at("readings")) {
    scale::EyeReading reading{item.at("reticle"), item.at("micrometer"), item.at("reticle_estimated"),
                              item.at("micrometer_estimated"), item.at("series")};
    readings.list.push_back({reading.series, scale::reading_words(reading), division_um * reading.micrometer,
                             item.at("residual_um"), item.at("uncertainty_um"), item.at("used"), item.at("remark")});
  }
  return readings;
}

scale::SeenScale seen_scale(const scale::Ruling& ruling) {
  const auto used = std::count_if(ruling.graduations.begin(), ruling.graduations.end(),
                                  [](const scale::Graduation& line) { return line.used; });
  return {static_cast<int>(used), ruling.pitch_px};
}

scale::EyepiecePicture eyepiece_picture_from(const json& picture, const std::vector<RecordedShot>& shots) {
  scale::EyepiecePicture seen{picture.at("file"), picture.at("sha256")};
  for (const RecordedShot& shot : shots)
    if (shot.eyepiece)
      seen.micrometer = seen_scale(shot.rulings[0].ruling), seen.reticle = seen_scale(shot.rulings[1].ruling);
  return seen;
}

}  // namespace

bool is_reticle(const SheetSource& source) {
  return source.content.contains("/result/um_per_division"_json_pointer) &&
         source.content.at("result").at("um_per_division").is_object();
}

bool is_reticle_in_picture(const SheetSource& source) {
  return is_reticle(source) && source.content.at("result").contains("picture");
}

scale::CalibrationFactor factor_from(const json& factor) {
  return {factor.at("value"), factor.at("expanded_uncertainty"), factor.at("coverage_factor")};
}

scale::PageRecord page_record(const scale::ListedRecord& listed) {
  std::string state = state_word(listed);
  if (listed.withdrawn_by) state += " by " + std::to_string(*listed.withdrawn_by);
  if (!listed.withdrawn_by && listed.superseded_by) state += " by " + std::to_string(*listed.superseded_by);
  return {listed.record.number, listed.record.hash, listed.record.draft.made_at, listed.record.draft.made_by, state};
}

RegisterReading read_register(const std::string& path) {
  RegisterReading reading;
  const auto reg = scale::Register::open(path, scale::RegisterUse::read);
  if (!reg) {
    if (reg.error().code != "missing") reading.problem = reg.error().message;
    return reading;
  }
  const auto verified = reg->verify();
  const auto records = reg->list();
  if (!verified || !records) {
    reading.problem = verified ? records.error().message : verified.error().message;
    return reading;
  }
  reading.unsound = !verified->problem.empty();
  if (reading.unsound)
    reading.problem = path + ": " + verified->problem +
                      "; no page is written from it. Keep this file, and compare it with a copy or an export";
  else
    reading.facts = RegisterFacts{{verified->records, verified->head}, *records};
  return reading;
}

const scale::ListedRecord* current_record(const RegisterFacts& facts, const std::string& setup) {
  const scale::ListedRecord* current = nullptr;
  for (const scale::ListedRecord& listed : facts.records)
    if (listed.record.draft.kind == "calibration" && listed.record.draft.setup == setup && !listed.withdrawn_by &&
        !listed.superseded_by)
      current = &listed;
  return current;
}

std::vector<SheetSource> current_sources(const scale::Lab& lab, const RegisterFacts& facts,
                                         std::vector<std::string>& problems) {
  std::vector<SheetSource> sources;
  for (const scale::LabSetup& setup : lab.setups) {
    const scale::ListedRecord* current = current_record(facts, setup.name);
    if (current == nullptr) continue;
    const scale::RecordDraft& draft = current->record.draft;
    SheetSource source{setup.name, json::parse(draft.content, nullptr, false), lab, draft.made_at,
                       page_record(*current)};
    if (source.content.is_discarded()) {
      problems.push_back(setup.name + ": record " + std::to_string(current->record.number) + " cannot be understood");
      continue;
    }
    // The sheet shows the certificate and the set-up as they were on that day.
    for (const scale::ListedRecord& listed : facts.records)
      if (draft.about && listed.record.number == *draft.about)
        if (auto then = scale::parse_lab(listed.record.draft.content).lab) source.lab = std::move(then);
    sources.push_back(std::move(source));
  }
  return sources;
}

scale::CalibrationSheet sheet_of(const SheetSource& source, const std::vector<RecordedShot>& shots,
                                 const RegisterFacts* facts) {
  const json& result = source.content.at("result");
  scale::CalibrationSheet sheet;
  sheet.title = source.setup;
  add_lab(sheet, source);
  sheet.stated = source.stated;
  const bool reticle = is_reticle(source);
  const std::string key = reticle ? "um_per_division" : "um_per_pixel";
  const json& factor = result.at(key);
  sheet.factor = factor_from(factor);
  sheet.reciprocal = optional_factor(result, "pixels_per_um");
  sheet.budget_complete = factor.at("budget_complete");
  // A single image without a lab file has none: its k says what is known.
  sheet.degrees_of_freedom = factor.contains("degrees_of_freedom") ? freedom_from(factor.at("degrees_of_freedom"))
                                                                   : std::numeric_limits<double>::quiet_NaN();
  sheet.x = optional_factor(result, "x");
  sheet.y = optional_factor(result, "y");
  if (const json nominal = result.value("nominal_" + key, json()); nominal.is_number()) sheet.nominal = nominal;
  if (is_reticle_in_picture(source))
    sheet.eyepiece_picture = eyepiece_picture_from(result.at("picture"), shots);
  else if (reticle)
    sheet.readings = readings_from(result, result.at("division_um"));
  if (const json before = result.value("registered", json()); before.is_object())
    sheet.before =
        scale::HistoryPoint{before.at("record"), "", before.at("value"), before.at("expanded_uncertainty"), ""};
  sheet.budget = budget_from(result.at("budget"), ("contribution_" + key).c_str());
  sheet.separation = separation_words(result.value("separation", json()));
  sheet.flags = warnings_from(result.at("flags"));
  sheet.warnings = warnings_from(result.at("warnings"));
  if (const json accepted = source.content.value("accepted", json()); accepted.is_string()) sheet.accepted = accepted;
  if (const json due = result.value("due", json()); due.is_string()) sheet.due = due;
  sheet.calibrated = source.made_at.substr(0, 10);
  sheet.record = source.record;
  if (!reticle) add_shots(sheet, shots);
  if (facts == nullptr) return sheet;
  sheet.chain = facts->chain;
  add_history(sheet, *facts, source.setup, key);
  return sheet;
}

}  // namespace gradus
