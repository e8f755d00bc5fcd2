#include <scale/card_page.h>

#include "report/calibration_sections.h"
#include "report/html.h"
#include "report/page.h"

namespace scale {
namespace report {
namespace {

constexpr int kDivisions = 100, kHalf = 50;

// A5 upright, half of the divisions beside the other half; every fifth and tenth line told apart by rule and weight.
constexpr const char* kCardRules = R"css(
@page{size:A5 portrait;margin:6mm 9mm 9mm}
.halves{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(17rem,100%),1fr));gap:0 1.6rem}
.halves .grid td,.halves .grid th{text-align:right;padding-right:.6rem}
.halves .grid td:first-child{min-width:0;color:var(--soft)}
.halves .grid td{border-bottom-color:transparent}
.halves tr:nth-child(5n) td{border-bottom:1px dotted var(--line)}
.halves tr:nth-child(10n) td{border-bottom:1px solid var(--line);font-weight:600}
.late{font-weight:700;text-decoration:underline}
@media print{html{font-size:6.4pt;line-height:1.2}svg.scale{height:8px}header .kind{display:none}h1{font-size:1.5rem;margin-top:.3rem}
header .place{margin-bottom:.3rem}section.full{padding:.2rem 0}.halves{grid-template-columns:1fr 1fr;gap:0 6mm}
.halves .wide,.halves table{width:100%}.halves .grid{font-size:.92em;margin:0}.halves .grid td{padding:0 1mm;line-height:2.38mm}
.halves .grid tr:nth-child(5n+1) td{padding-top:.2mm}
.halves .grid th{padding:0 1mm}.grid td,.grid th{padding-top:.05rem;padding-bottom:.05rem}.grid td:first-child{min-width:0}footer{padding-top:.1rem;font-size:.78rem}p{margin:.1rem 0;max-width:none}}
)css";

std::string day_words(const std::string& day) { return "<span class=\"q\">" + escaped(day) + "</span>"; }

std::string due_words(const CardColumn& column) {
  if (column.due.empty()) return "not stated";
  return column.overdue ? "<span class=\"late\">" + day_words(column.due) + ", overdue</span>" : day_words(column.due);
}

std::string setups(const ReticleCard& card, NumberStyle style) {
  std::vector<std::vector<std::string>> rows;
  for (const CardColumn& column : card.columns) {
    const CalibrationFactor& factor = column.um_per_division;
    rows.push_back({foreign(column.setup), foreign(column.objective), factor_words(factor, "µm/div", style),
                    percent(factor.expanded_uncertainty / factor.value, 2, style) +
                        ", <span class=\"q\">k = " + fixed(factor.coverage_factor, 2, style) + "</span>",
                    day_words(column.calibrated), due_words(column), std::to_string(column.record),
                    foreign(column.scale)});
  }
  const std::vector<Column> columns = {{"Set-up"},     {"Objective"}, {"One division"}, {"Relative U"},
                                       {"Calibrated"}, {"Due"},       {"Record", true}, {"Scale"}};
  return section("Set-ups", table("Set-ups", columns, rows, Narrow::stack), true);
}

std::string half(const ReticleCard& card, int first, NumberStyle style) {
  std::vector<Column> columns = {{"div", true}};
  for (const CardColumn& column : card.columns) columns.push_back({foreign(column.setup), true});
  std::vector<std::vector<std::string>> rows;
  for (int divisions = first; divisions < first + kHalf; ++divisions) {
    rows.push_back({std::to_string(divisions)});
    for (const CardColumn& column : card.columns)
      rows.back().push_back(fixed(divisions * column.um_per_division.value, card_decimals(column), style));
  }
  return table("Divisions " + std::to_string(first) + " to " + std::to_string(first + kHalf - 1), columns, rows);
}

std::string notes(const ReticleCard& card) {
  std::string html =
      "<p>U, relative, is of every length on this card (95.45 %); reading both ends by eye adds its own. Each column "
      "holds for its own objective, zoom setting and focus of the eyepiece.";
  for (const std::string& name : card.missing) html += " Not calibrated: " + foreign(name) + ".";
  for (const CardColumn& column : card.columns)
    if (!column.budget_complete) html += " Not every component of U is stated: " + foreign(column.setup) + ".";
  return section("Notes", html + "</p>\n", true);
}

}  // namespace
}  // namespace report

int card_decimals(const CardColumn& column) {
  const CalibrationFactor& factor = column.um_per_division;
  return for_report(report::kDivisions * factor.value, report::kDivisions * factor.expanded_uncertainty).decimals;
}

std::string card_page(const ReticleCard& card, const PageStyle& style) {
  using namespace report;
  const NumberStyle numbers = numbers_of(style);
  const std::string lengths =
      "<div class=\"halves\">" + half(card, 1, numbers) + half(card, 1 + kHalf, numbers) + "</div>\n";
  const std::string title = "Reticle divisions in micrometres";
  return page({title, "Card for the bench", place_words(card.room, card.laboratory, card.address),
               title + ", " + card.day, kCardRules},
              setups(card, numbers) + section("Lengths in µm", lengths, true) + notes(card), style);
}

}  // namespace scale
