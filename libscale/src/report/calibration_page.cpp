#include "report/calibration_sections.h"
#include "report/charts.h"
#include "report/html.h"
#include "report/page.h"

namespace scale {
namespace report {
namespace {

std::string identity(const CalibrationSheet& sheet) {
  if (!sheet.record) return sheet.title + ", not in a register";
  return sheet.title + ", register record " + std::to_string(sheet.record->number) + ", " +
         sheet.record->hash.substr(0, 16);
}

std::string remarks(const CalibrationSheet& sheet) {
  if (sheet.flags.empty() && sheet.warnings.empty()) return "<p>None.</p>\n";
  std::string list = "<ul>\n";
  for (const Warning& flag : sheet.flags) list += "<li><b>Flagged:</b> " + sentence(flag.message) + "</li>\n";
  for (const Warning& warning : sheet.warnings) list += "<li>" + sentence(warning.message) + "</li>\n";
  list += "</ul>\n";
  if (!sheet.accepted.empty())
    list += "<p>Accepted all the same, with the reason: " + foreign(sheet.accepted) + "</p>\n";
  return list;
}

std::string signatures(const CalibrationSheet& sheet) {
  std::string html = "<div class=\"sign-off keep\">";
  for (const char* who : {"Calibrated by: name, date, signature", "Authorised by: name, function, date, signature"})
    html += std::string("<p>") + who + "</p>";
  html += "</div>\n";
  if (!sheet.chain)
    return html + "<p class=\"small\">Not in a register: nothing but this sheet keeps the result.</p>\n";
  return html + "<p class=\"small\">Hash of the register at printing, over " + std::to_string(sheet.chain->records) +
         (sheet.chain->records == 1 ? " record" : " records") + ": <span class=\"hash\">" + escaped(sheet.chain->head) +
         "</span>. Kept on paper, it shows later whether the register was cut or written anew.</p>\n";
}

}  // namespace
}  // namespace report

std::string calibration_page(const CalibrationSheet& sheet, const PageStyle& style) {
  using namespace report;
  const NumberStyle numbers = numbers_of(style);
  std::string content = result_section(sheet, numbers) + identification_section(sheet, style, numbers) +
                        setup_section(sheet, numbers) + scale_section(sheet, numbers) + method_section(sheet) +
                        eyepiece_picture_section(sheet, numbers) + evidence_sections(sheet, numbers) +
                        readings_section(sheet, numbers) + budget_section(sheet, numbers) +
                        history_section(sheet, numbers) + section("Warnings", remarks(sheet)) +
                        statement_sections(sheet, style, numbers) + section("Signatures", signatures(sheet));
  return page({sheet.title, is_reticle(sheet) ? "Calibration of an eyepiece reticle" : "Calibration of a set-up",
               place_words(sheet.room, sheet.laboratory, sheet.address), identity(sheet)},
              content, style);
}

}  // namespace scale
