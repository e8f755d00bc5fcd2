// The bench card as a page.
#include <scale/report.h>

#include "budget_table.h"
#include "reticle_card.h"
#include "text.h"

namespace gradus {
namespace {

constexpr int kRows = 50;  // in each of the two halves

// The page loads nothing.
constexpr const char* kPolicy =
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">";

// Print first: black on white, system fonts, every fifth and tenth line told apart by weight and rule. The rule's blue
// is of the Okabe-Ito colours.
constexpr const char* kStyle = R"css(
@page { size: A5 portrait; margin: 7mm 9mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; width: 130mm; font: 6.6pt/1.2 system-ui, "DejaVu Sans", sans-serif; color: #111; }
h1 { font-size: 11pt; margin: 0 0 1mm; font-weight: 600; border-bottom: 0.5mm solid #0072b2; padding-bottom: 1mm; }
p { margin: 0.8mm 0; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th { font-weight: 600; text-align: right; padding: 0 1mm; vertical-align: bottom; }
td { text-align: right; padding: 0 1mm; white-space: nowrap; }
.facts { margin: 1mm 0 2mm; } .facts th, .facts td { text-align: left; padding: 0.2mm 2mm 0.2mm 0; }
.halves { display: flex; gap: 6mm; } .halves > table { flex: 1; line-height: 2.72mm; }
.n { color: #555; border-right: 0.2mm solid #999; }
tr.five td { border-bottom: 0.1mm dotted #999; } tr.ten td { border-bottom: 0.25mm solid #0072b2; font-weight: 600; }
.late { font-weight: 700; text-decoration: underline; }
footer { margin-top: 1.5mm; font-size: 6pt; color: #333; }
)css";

std::string cell(const std::string& tag, const std::string& text, const std::string& kind = "") {
  return "<" + tag + (kind.empty() ? "" : " class=\"" + kind + "\"") + ">" + scale::html_text(text) + "</" + tag + ">";
}

std::string objective_words(const scale::LabSetup& setup) {
  std::string text = setup.conditions.magnification ? shortest(*setup.conditions.magnification) + "x" : "";
  if (setup.zoom) text += (text.empty() ? "zoom " : ", zoom ") + shortest(*setup.zoom);
  return text;
}

std::string facts(const Card& card) {
  std::string text = "<table class=\"facts\"><tr>";
  for (const char* name :
       {"set-up", "objective", "µm per division", "U, relative", "calibrated", "due", "record", "scale"})
    text += cell("th", name);
  text += "</tr>\n";
  for (const HeldReticle& held : card.columns) {
    const scale::CalibrationFactor& factor = *held.um_per_division;
    text +=
        "<tr>" + cell("td", held.setup->name) + cell("td", objective_words(*held.setup)) +
        cell("td", value_words(factor.value, factor.expanded_uncertainty)) +
        cell("td", percent(factor.expanded_uncertainty / factor.value) + ", k = " + fixed(factor.coverage_factor, 2)) +
        cell("td", held.date()) + cell("td", due_words(held, card.day), is_overdue(held, card.day) ? "late" : "") +
        cell("td", std::to_string(held.record)) + cell("td", held.scale) + "</tr>\n";
  }
  return text + "</table>\n";
}

std::string half(const Card& card, int first) {
  std::string text = "<table><tr>" + cell("th", "div", "n");
  for (const HeldReticle& held : card.columns) text += cell("th", held.setup->name);
  text += "</tr>\n";
  for (int divisions = first; divisions < first + kRows; ++divisions) {
    const char* kind = divisions % 10 == 0 ? " class=\"ten\"" : divisions % 5 == 0 ? " class=\"five\"" : "";
    text += std::string("<tr") + kind + ">" + cell("td", std::to_string(divisions), "n");
    for (const HeldReticle& held : card.columns)
      text += cell("td", fixed(divisions * held.um_per_division->value, card_decimals(*held.um_per_division)));
    text += "</tr>\n";
  }
  return text + "</table>\n";
}

std::string notes(const Card& card) {
  std::string text =
      "Lengths in micrometres. U, relative, is of every length on this card (95.45 %); reading both ends by eye adds "
      "its own. Each column holds for its own objective, zoom setting and focus of the eyepiece.";
  for (const std::string& name : card.missing) text += " Not calibrated: " + name + ".";
  for (const HeldReticle& held : card.columns)
    if (!held.budget_complete) text += " Not every component of U is stated: " + held.setup->name + ".";
  return text;
}

}  // namespace

std::string card_page(const Card& card) {
  const std::string title = "Reticle divisions in micrometres";
  return std::string("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">") + kPolicy + "<title>" +
         title + "</title><style>" + kStyle + "</style></head><body>\n" +
         cell("h1", title + (card.room.empty() ? "" : ", " + card.room)) + "\n" + facts(card) +
         "<div class=\"halves\">" + half(card, 1) + half(card, kRows + 1) + "</div>\n" +
         cell("footer", notes(card) + " Printed " + card.day + " by " + card.program + ".") + "\n</body></html>\n";
}

}  // namespace gradus
