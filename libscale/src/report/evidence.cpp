#include <scale/quantity_text.h>

#include <algorithm>
#include <cmath>

#include "report/calibration_sections.h"
#include "report/charts.h"
#include "report/html.h"
#include "report/page.h"

namespace scale::report {
namespace {

const std::vector<LegendItem> kResidualLegend = {
    {mark_svg(Mark::disc, "measured"), "graduation, bar of two standard uncertainties"},
    {mark_svg(Mark::cross, "left-out"), "left out of the fit"},
    {mark_svg(Mark::diamond, "certified"), "certified"}};

std::string number_of(const std::string& stem, std::size_t place) { return stem + "-" + std::to_string(place + 1); }

// One scale for all charts; a single wild graduation must not flatten the others.
double common_reach(const std::vector<RulingResiduals>& list) {
  std::vector<double> sizes;
  for (const RulingResiduals& residuals : list) {
    for (const ResidualPoint& point : residuals.points)
      if (point.used) sizes.push_back(std::abs(point.deviation_um) + 2.0 * point.uncertainty_um);
    for (const Correction& row : residuals.certified) sizes.push_back(std::abs(row.deviation.value));
  }
  if (sizes.empty()) return 1.0;
  return std::max(1e-4, *std::max_element(sizes.begin(), sizes.end()));
}

// Units of a budget as they are printed; a share has none.
std::string unit_words(const std::string& unit) { return unit == "1" ? "" : written_unit(unit); }

// Of a component that is there, however small.
std::string share_words(double share, NumberStyle style) {
  constexpr double kLeast = 5e-4;
  return share > 0.0 && share < kLeast ? "< " + percent(0.001, 1, style) : percent(share, 1, style);
}

bool is_complete(const CalibrationSheet& sheet) {
  return std::all_of(sheet.budget.begin(), sheet.budget.end(), [](const BudgetLine& line) { return line.stated; });
}

// What the marks of the history mean, of those that are in it.
std::vector<LegendItem> history_legend(const std::vector<HistoryPoint>& history) {
  std::vector<LegendItem> list;
  const auto add = [&](const char* state, Mark mark, const char* look) {
    if (std::any_of(history.begin(), history.end(), [&](const HistoryPoint& point) { return point.state == state; }))
      list.push_back({mark_svg(mark, look), state});
  };
  add("current", Mark::disc, "measured");
  add("superseded", Mark::ring, "former");
  add("withdrawn", Mark::cross, "left-out");
  return list;
}

std::string pictures_section(const CalibrationSheet& sheet) {
  if (sheet.pictures.empty()) return "";
  std::string html =
      "<p class=\"small lead\">Solid lines: graduations that carry the fit. Dashed: seen and not used. Small "
      "numbers: graduations of the scale, where it is known which is which; else counted from the first one seen. The "
      "arrow runs along which graduations follow each other, in degrees from the picture's x towards y.</p>\n";
  for (const PagePicture& one : sheet.pictures) html += picture(one);
  return section("Lines found", html);
}

std::string residuals_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (sheet.residuals.empty()) return "";
  const double reach = common_reach(sheet.residuals);
  std::string html;
  for (std::size_t i = 0; i < sheet.residuals.size(); ++i) {
    const RulingResiduals& residuals = sheet.residuals[i];
    const std::string caption = foreign(residuals.name) + ", along " + residuals.direction +
                                (residuals.numbered ? "." : "; which graduation is which is not known.");
    html += figure(residual_chart(residuals, reach, number_of("residuals", i), style),
                   "Residuals of " + residuals.name + " along " + residuals.direction, caption);
  }
  std::string legend = "<p class=\"small legend lead\">";
  for (const LegendItem& item : kResidualLegend) legend += "<span>" + item.symbol + " " + item.meaning + "</span> ";
  return section(
      "Residuals",
      "<p class=\"small lead\">How far each graduation lies from an even division. Certified deviations are shown "
      "less a straight line, as the fit takes it out of the graduations too. What was left out may lie beyond the axis "
      "and then stands at its edge.</p>\n" +
          legend + "</p>\n" + html);
}

std::string profiles_section(const CalibrationSheet& sheet, NumberStyle style) {
  std::string html;
  for (std::size_t i = 0; i < sheet.profiles.size(); ++i) {
    const LineProfile& profile = sheet.profiles[i];
    if (profile.grey.empty() || profile.frequency.empty() || !(profile.pitch_px > 0.0)) continue;
    const std::string of = profile.name + " along " + profile.direction;
    html +=
        figure(profile_chart(profile, number_of("profile", i), style), "Profile of " + of, foreign(of) + ": profile.");
    html += figure(spectrum_chart(profile, number_of("spectrum", i), style), "Spectrum of " + of,
                   foreign(of) + ": amplitude spectrum of the profile; dashed: the found pitch.");
  }
  if (html.empty()) return "";
  return section("Profile and spectrum", html);
}

std::string field_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (sheet.field.empty()) return "";
  return section(
      "Local scale over the field",
      figure(local_scale_map(sheet.field, sheet.width, sheet.height, "field", style), "Local scale over the field",
             "Departure of the local factor from the mean of its ruling, in parts per thousand; numbers "
             "above their mark are along x, below it along y. On a narrow screen only clear departures have theirs.",
             {{mark_svg(Mark::triangle, "above"), "larger"},
              {mark_svg(Mark::square, "below"), "smaller"},
              {mark_svg(Mark::ring, "unclear"), "within two standard uncertainties"}}));
}

std::string shots_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (sheet.shots.empty()) return "";
  std::vector<std::vector<std::string>> rows;
  for (const SheetShot& shot : sheet.shots) {
    const ReportedText factor = reported(shot.um_per_pixel, shot.fit_uncertainty, style);
    rows.push_back(
        {foreign(shot.image), std::string(1, shot.direction), factor.value, significant(shot.fit_uncertainty, 2, style),
         fixed(shot.weight, 3, style), shot.numbering.empty() ? "not known" : escaped(shot.numbering),
         shot.used ? "used" : "left out: " + foreign(shot.reason),
         shot.sha256.empty() ? "–" : "<span class=\"hash\">" + escaped(shot.sha256.substr(0, 16)) + "…</span>"});
  }
  return section("Shots",
                 table("Shots",
                       {{"Picture"},
                        {"Along"},
                        {"Factor / (µm/px)", true},
                        {"u of the fit", true},
                        {"Weight", true},
                        {"Graduations"},
                        {"Use"},
                        {"SHA-256 of the file"}},
                       rows, Narrow::stack),
                 true);
}

}  // namespace

std::string evidence_sections(const CalibrationSheet& sheet, NumberStyle style) {
  return pictures_section(sheet) + residuals_section(sheet, style) + profiles_section(sheet, style) +
         field_section(sheet, style) + shots_section(sheet, style);
}

std::string eyepiece_picture_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (!sheet.eyepiece_picture) return "";
  const EyepiecePicture& seen = *sheet.eyepiece_picture;
  std::vector<Fact> list = {
      {"File", foreign(seen.file)},
      {"SHA-256 of the file", seen.sha256.empty() ? "" : "<span class=\"hash\">" + escaped(seen.sha256) + "</span>"}};
  for (const auto& [name, scale] : {std::pair{"Micrometer", &seen.micrometer}, {"Reticle", &seen.reticle}})
    if (*scale)
      list.push_back({name, std::to_string((*scale)->lines) + " lines, " +
                                with_unit(fixed((*scale)->pitch_px, 3, style), "px") + " apart"});
  return section("Picture", facts(list));
}

std::string readings_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (!sheet.readings) return "";
  const SheetReadings& readings = *sheet.readings;
  std::vector<std::vector<std::string>> rows;
  for (const SheetReading& reading : readings.list)
    rows.push_back({std::to_string(reading.series), escaped(reading.words), signed_fixed(reading.residual_um, 2, style),
                    fixed(reading.uncertainty_um, 2, style),
                    std::string(reading.used ? "used" : "left out") +
                        (reading.remark.empty() ? "" : ": " + escaped(reading.remark))});
  std::string html =
      "<p class=\"small lead\">A reading 33=34 says that line 33 of the reticle was seen on graduation 34 of the line "
      "scale; a decimal point says that the fraction was estimated.</p>\n";
  html += figure(readings_chart(readings, "readings", style), "Readings off their line",
                 "How far each reading lies from the line, bars of two standard uncertainties. What was left out may "
                 "lie beyond the axis and then stands at its edge.",
                 {{mark_svg(Mark::disc, "measured"), "reading"}, {mark_svg(Mark::cross, "left-out"), "left out"}});
  html += table("Readings", {{"Series"}, {"Reticle = scale"}, {"Off the line / µm", true}, {"u / µm", true}, {"Use"}},
                rows, Narrow::stack);
  html += "<p>χ² of the findings about their line: " + significant(readings.chi_squared, 2, style) + " with " +
          std::to_string(readings.chi_squared_freedom) + (readings.chi_squared_freedom == 1 ? " degree" : " degrees") +
          " of freedom. Standard uncertainty of the readings alone: " +
          with_unit(significant(readings.reading_uncertainty, 2, style), "µm per division") + ".</p>\n";
  return section("Readings", html);
}

std::string budget_section(const CalibrationSheet& sheet, NumberStyle style) {
  double squares = 0.0;
  for (const BudgetLine& line : sheet.budget)
    if (line.stated) squares += line.contribution * line.contribution;
  std::vector<std::vector<std::string>> rows;
  for (const BudgetLine& line : sheet.budget) {
    const std::string component =
        "<b>" + escaped(line.input.name) + "</b><br><span class=\"small\">" + sentence(line.basis) + "</span>";
    if (!line.stated) {
      rows.push_back({component, "not stated", "", "", "", "", ""});
      continue;
    }
    const double share = squares > 0.0 ? line.contribution * line.contribution / squares : 0.0;
    const std::string unit = unit_words(line.unit);
    const std::string value = significant(line.input.value, 4, style),
                      size = significant(line.input.standard_uncertainty, 2, style);
    rows.push_back({component, unit.empty() ? value : with_unit(value, unit),
                    unit.empty() ? size : with_unit(size, unit), name_of(line.input.distribution),
                    freedom_number(line.input.degrees_of_freedom, style), significant(line.contribution, 2, style),
                    share_bar(share) + " <span class=\"share\">" + share_words(share, style) + "</span>"});
  }
  const double combined = std::sqrt(squares);
  rows.push_back({"<b>combined</b>", "", "", "", freedom_number(sheet.degrees_of_freedom, style),
                  "<b>" + significant(combined, 2, style) + "</b>", ""});
  return section("Uncertainty budget",
                 table("Uncertainty budget",
                       {{"Component"},
                        {"Value", true},
                        {"Standard uncertainty", true},
                        {"Distribution"},
                        {"Degrees of freedom", true},
                        {"Contribution / (" + unit_of(sheet) + ")", true},
                        {"Share of the variance", true}},
                       rows, Narrow::stack) +
                     "<p class=\"small\">Values without a unit are shares of the factor. U is the combined standard "
                     "uncertainty times k." +
                     (is_complete(sheet) ? "" : " Components not stated exist, and are not in U.") + "</p>\n",
                 true);
}

std::string history_section(const CalibrationSheet& sheet, NumberStyle style) {
  if (sheet.history.empty()) return section("History", "<p>The register holds no calibration of this set-up.</p>\n");
  return section("History",
                 figure(history_chart(sheet.history, unit_of(sheet), "history", style), "History of the factor",
                        "All calibrations in the register, bars of U.", history_legend(sheet.history)));
}

}  // namespace scale::report
