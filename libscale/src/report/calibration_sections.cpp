#include "report/calibration_sections.h"

#include <cmath>

#include "report/html.h"
#include "report/page.h"

namespace scale::report {
namespace {

std::string date_text(const std::optional<std::chrono::year_month_day>& date) {
  if (!date) return "";
  const auto padded = [](unsigned value) { return (value < 10 ? "0" : "") + std::to_string(value); };
  return std::to_string(static_cast<int>(date->year())) + "-" + padded(static_cast<unsigned>(date->month())) + "-" +
         padded(static_cast<unsigned>(date->day()));
}

std::string freedom(double degrees_of_freedom, NumberStyle style) {
  if (std::isnan(degrees_of_freedom)) return "";
  return beyond_counting(degrees_of_freedom) ? "infinite" : freedom_number(degrees_of_freedom, style);
}

std::string length(double um, NumberStyle style) { return with_unit(stated(um, style), "µm"); }

std::string certified_uncertainty(const CertifiedUncertainty& stated, NumberStyle style) {
  const std::string expanded = " (k = " + report::stated(stated.coverage_factor, style) + ")";
  if (!(stated.constant.value > 0.0) && stated.per_length > 0.0)
    return with_unit(report::stated(100.0 * stated.per_length, style), "%") + " of any length" + expanded;
  std::string words = length(stated.constant.value, style);
  if (stated.per_length > 0.0) words += " + " + significant(stated.per_length, 2, style) + " of the length";
  return words + expanded + (stated.independent_positions ? ", of positions, independent" : ", of the length in view");
}

std::string expansion_words(const std::optional<Expansion>& expansion, NumberStyle style) {
  if (!expansion) return "";
  const std::string value = fixed(1e6 * expansion->value, 2, style),
                    limits = fixed(1e6 * expansion->half_width, 2, style);
  return "(" + value + " ± " + limits + ") × 10⁻⁶ /K";
}

std::string times(const std::optional<double>& number, NumberStyle style) {
  return number ? stated(*number, style) + "×" : "";
}

std::string temperature_words(const std::optional<RoomTemperature>& room, NumberStyle style) {
  if (!room) return "";
  return with_unit("(" + fixed(room->value, 1, style) + " ± " + fixed(room->limits, 1, style) + ")", "°C");
}

std::string area_words(const SetupConditions& conditions) {
  if (!conditions.measuring_area) return "the whole picture";
  const MeasuringArea& area = *conditions.measuring_area;
  return "left " + coordinate(area.x) + ", top " + coordinate(area.y) + ", " +
         with_unit(coordinate(area.width) + " × " + coordinate(area.height), "px");
}

std::string nominal_words(const CalibrationSheet& sheet, NumberStyle style) {
  if (!sheet.nominal) return "";
  const double off = sheet.factor.value / *sheet.nominal - 1.0;
  return with_unit(significant(*sheet.nominal, 5, style), unit_of(sheet)) + ", from which the factor deviates by " +
         with_unit(signed_fixed(100.0 * off, 2, style), "%");
}

std::string kind_words(const std::string& objective, const std::optional<double>& aperture, NumberStyle style) {
  return objective + (aperture ? ", aperture " + fixed(*aperture, 2, style) : "");
}

std::string size_words(const CalibrationSheet& sheet) {
  return with_unit(std::to_string(sheet.width) + " × " + std::to_string(sheet.height), "px");
}

std::vector<Fact> camera_facts(const CalibrationSheet& sheet, NumberStyle style) {
  const LabSetup& setup = *sheet.setup;
  const SetupConditions& conditions = setup.conditions;
  return {{"Microscope", foreign(setup.microscope)},
          {"Objective", kind_words(times(conditions.magnification, style), conditions.aperture, style)},
          {"Relay lens", times(setup.relay, style)},
          {"Zoom", times(setup.zoom, style)},
          {"Camera", foreign(setup.camera)},
          {"Pixel pitch", setup.pixel_pitch ? length(setup.pixel_pitch->value, style) : ""},
          {"Binning", std::to_string(setup.binning)},
          {"Image size", size_words(sheet)},
          {"Measuring area", area_words(conditions)},
          {"Temperature of the room", temperature_words(conditions.room, style)},
          {"Focus", conditions.refocused_between_shots ? "set anew for each shot" : ""}};
}

std::string divisions_words(int divisions) { return divisions > 0 ? std::to_string(divisions) + " divisions" : ""; }

std::vector<Fact> eyepiece_facts(const CalibrationSheet& sheet, NumberStyle style) {
  const LabSetup& setup = *sheet.setup;
  const SetupConditions& conditions = setup.conditions;
  std::vector<Fact> list = {
      {"Microscope", foreign(setup.microscope)},
      {"Objective", kind_words(times(conditions.magnification, style), conditions.aperture, style)},
      {"Zoom", times(setup.zoom, style)},
      {"Eyepiece", foreign(setup.eyepiece)},
      {"Reticle", divisions_words(setup.reticle_divisions)},
      {"Engraved division", setup.reticle_pitch ? length(setup.reticle_pitch->value, style) : ""}};
  // Of a moving eye; a camera does not move.
  if (!sheet.eyepiece_picture)
    list.push_back(
        {"Parallax", setup.parallax > 0.0 ? "± " + significant(setup.parallax, 2, style) + " divisions" : ""});
  list.push_back({"Temperature of the room", temperature_words(conditions.room, style)});
  return list;
}

std::vector<Fact> stated_scale_facts(const ReferenceScale& reference, NumberStyle style) {
  std::vector<Fact> list = {{"Division", length(reference.division.value, style)}};
  if (reference.divisions > 0) list.push_back({"Divisions", std::to_string(reference.divisions)});
  list.push_back(
      {"Expanded uncertainty", reference.uncertainty ? certified_uncertainty(*reference.uncertainty, style) : ""});
  list.push_back({"Certificate", ""});
  return list;
}

constexpr const char* kMethodOfPictures =
    "<p>The graduations of the line scale are found in each picture by their even division and followed along their "
    "length; the centre of each is fitted to a small part of a pixel. The factor is the slope of their places on "
    "the scale against their places in the picture, from line centre to line centre, at right angles to the lines. "
    "Uncertainties are combined by JCGM 100:2008.</p>\n";
constexpr const char* kMethodOfReadings =
    "<p>Reticle and line scale were seen through the eyepiece side by side, and an observer read which line of the "
    "reticle lies on which graduation. The factor is the slope of a straight line with errors in both scales "
    "(ISO/TS 28037:2010, clause 7); neighbouring lines that all look like one count as one finding, by their "
    "middle. Uncertainties are combined by JCGM 100:2008. A series of only two readings cannot show a "
    "miscount, and readings by eye cannot tell a distortion of the eyepiece.</p>\n";
constexpr const char* kMethodOfEyepiecePicture =
    "<p>Reticle and line scale were found in one picture through the eyepiece by the even division of each; the centre "
    "of each line is fitted to a small part of a pixel. Which of the two is the reticle follows from counting "
    "divisions, or was stated. The factor is the division of the line scale times the ratio of the two pitches, each "
    "at right angles to its own lines and both at places that both scales cover, or between the scales; how far the "
    "picture is magnified cancels. So does, to first order, the tilt of the camera where the scales run alike: by how "
    "much the lines fan out both pitches are brought to one place, and what that leaves is in the budget. "
    "Uncertainties are combined by JCGM 100:2008.</p>\n";

std::string not_stated(const CalibrationSheet& sheet) {
  std::string names;
  for (const BudgetLine& line : sheet.budget)
    if (!line.stated) names += (names.empty() ? "" : ", ") + escaped(line.input.name);
  return names;
}

const char* method_of(const CalibrationSheet& sheet) {
  if (!is_reticle(sheet)) return kMethodOfPictures;
  return sheet.eyepiece_picture ? kMethodOfEyepiecePicture : kMethodOfReadings;
}

}  // namespace

bool is_reticle(const CalibrationSheet& sheet) { return sheet.readings || sheet.eyepiece_picture; }

std::string unit_of(const CalibrationSheet& sheet) { return is_reticle(sheet) ? "µm/div" : "µm/px"; }

std::string factor_words(const CalibrationFactor& factor, const std::string& unit, NumberStyle style) {
  const ReportedText text = reported(factor.value, factor.expanded_uncertainty, style);
  return "<span class=\"q\">" + with_unit("(" + text.value + " ± " + text.uncertainty + ")", unit) + "</span>";
}

std::string result_section(const CalibrationSheet& sheet, NumberStyle style) {
  const ReportedText text = reported(sheet.factor.value, sheet.factor.expanded_uncertainty, style);
  const std::string unit = is_reticle(sheet) ? "µm per division" : "µm per pixel";
  std::string html = "<p class=\"factor\">" + with_unit(text.value, unit) +
                     "</p>\n<p>Expanded uncertainty U = " + with_unit(text.uncertainty, unit) +
                     ", coverage factor k = " + fixed(sheet.factor.coverage_factor, 2, style) +
                     ", coverage probability about " + percent(kCoverageProbability, 2, style) + ".</p>\n";
  if (!sheet.budget_complete)
    html += "<p><b>The budget is not complete:</b> not stated, and not in U: " + not_stated(sheet) + ".</p>\n";
  std::vector<Fact> list;
  if (sheet.reciprocal) list.push_back({"Reciprocal", factor_words(*sheet.reciprocal, "px/µm", style)});
  const std::vector<Fact> always = {
      {"Relative U",
       with_unit(significant(100.0 * sheet.factor.expanded_uncertainty / sheet.factor.value, 2, style), "%")},
      {"Effective degrees of freedom", freedom(sheet.degrees_of_freedom, style)},
      {"Nominal factor", nominal_words(sheet, style)}};
  list.insert(list.end(), always.begin(), always.end());
  if (sheet.x) list.push_back({"Along x of the picture", factor_words(*sheet.x, "µm/px", style)});
  if (sheet.y) list.push_back({"Along y of the picture", factor_words(*sheet.y, "µm/px", style)});
  return section("Result", html + facts(list));
}

std::string identification_section(const CalibrationSheet& sheet, const PageStyle& page_style, NumberStyle) {
  std::vector<Fact> list = {{"Set-up", foreign(sheet.title)},
                            {"Room", foreign(place_words(sheet.room, sheet.laboratory, sheet.address))},
                            {"Calibrated on", escaped(sheet.calibrated)}};
  if (sheet.record) {
    list.push_back({"By", foreign(sheet.record->made_by)});
    list.push_back({"Register record", std::to_string(sheet.record->number) + ", " + escaped(sheet.record->state)});
    list.push_back({"Hash of the record", "<span class=\"hash\">" + escaped(sheet.record->hash) + "</span>"});
  } else {
    list.push_back({"Register record", "none: this result was not recorded"});
  }
  if (sheet.setup) list.push_back({"Due again", escaped(sheet.due)});
  list.push_back({"Sheet printed", escaped(time_words(page_style.printed_at))});
  return section("Identification", facts(list));
}

std::string setup_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (!sheet.setup && is_reticle(sheet))
    return section("Set-up", "<p>Not described: the reticle was calibrated without a lab file.</p>\n" +
                                 facts({{"Reticle", divisions_words(sheet.stated.reticle_divisions)}}));
  if (!sheet.setup)
    return section("Set-up", "<p>Not described: the picture was calibrated without a lab file.</p>\n" +
                                 facts({{"Image size", size_words(sheet)}}));
  return section("Set-up", facts(is_reticle(sheet) ? eyepiece_facts(sheet, style) : camera_facts(sheet, style)));
}

std::string scale_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (!sheet.scale) return section("Reference scale", facts(stated_scale_facts(sheet.stated.reference, style)));
  const LabScale& scale = *sheet.scale;
  const ReferenceScale& reference = scale.reference;
  const std::string number = scale.certificate.empty() ? "number not stated" : foreign(scale.certificate);
  const std::string certificate = scale.calibrated            ? number + ", of " + date_text(scale.calibrated)
                                  : scale.certificate.empty() ? ""
                                                              : number;
  return section(
      "Reference scale",
      facts(
          {{"Line scale", foreign(scale.name)},
           {"Serial number", foreign(scale.serial)},
           {"Divisions", std::to_string(reference.divisions) + " of " + length(reference.division.value, style)},
           {"Certificate", certificate},
           {"Issued by", foreign(scale.laboratory)},
           {"To be recalibrated by", date_text(scale.recalibrate_by)},
           {"Expanded uncertainty", reference.uncertainty ? certified_uncertainty(*reference.uncertainty, style) : ""},
           {"Certified positions", reference.corrections.empty() ? "" : std::to_string(reference.corrections.size())},
           {"Expansion", expansion_words(reference.expansion, style)},
           {"Lengths hold at", with_unit(fixed(reference.certificate_temperature, 1, style), "°C")}}));
}

std::string method_section(const CalibrationSheet& sheet) {
  std::string html = method_of(sheet);
  if (!sheet.separation.empty()) html += "<p>" + foreign(sheet.separation) + "</p>\n";
  return section("Method", html);
}

}  // namespace scale::report
