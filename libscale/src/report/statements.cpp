#include <cmath>

#include "report/calibration_sections.h"
#include "report/html.h"

namespace scale::report {
namespace {

std::string traceability(const CalibrationSheet& sheet) {
  const bool certified = sheet.scale && !sheet.scale->certificate.empty() && !sheet.scale->laboratory.empty() &&
                         sheet.scale->reference.uncertainty;
  if (!certified)
    return "<p>No traceability can be claimed: certificate, issuing laboratory and uncertainty of the reference scale "
           "are "
           "not all stated.</p>\n";
  return "<p>Lengths are traceable to the unit of length through certificate " + foreign(sheet.scale->certificate) +
         " of " + foreign(sheet.scale->laboratory) + " for line scale " + foreign(sheet.scale->name) +
         (sheet.scale->serial.empty() ? std::string() : ", serial number " + foreign(sheet.scale->serial)) +
         ". The laboratory has to make sure that this certificate is itself traceable.</p>\n";
}

// In which state the result holds, and what its kind of evidence cannot tell.
struct Reach {
  const char *state, *beyond;
};

Reach reach_of(const CalibrationSheet& sheet) {
  if (!is_reticle(sheet))
    return {"the pictures were taken",
            "<li>what is done to pictures afterwards: another resolution, binning, a resize on export;</li>\n"
            "<li>where the border of a specimen lies in a blurred picture;</li>\n"
            "<li>the field outside the part that the scale covered.</li>\n"};
  if (sheet.eyepiece_picture)
    return {"the picture was taken",
            "<li>another eyepiece, tube length or focus of the eyepiece;</li>\n"
            "<li>how well an observer reads the two borders of a specimen;</li>\n"
            "<li>distortion of the eyepiece outside the part that both scales covered.</li>\n"};
  return {"it was read",
          "<li>another eyepiece, tube length or focus of the eyepiece;</li>\n"
          "<li>how well an observer reads the two borders of a specimen;</li>\n"
          "<li>distortion of the eyepiece, which readings by eye cannot tell.</li>\n"};
}

std::string not_examined(const CalibrationSheet& sheet) {
  const Reach reach = reach_of(sheet);
  std::string html = std::string("<p>The result relates to this set-up only, in the state in which ") + reach.state +
                     ". Not examined:</p>\n<ul>\n<li>another focus, zoom position, cover glass or immersion;</li>\n" +
                     reach.beyond;
  for (const BudgetLine& line : sheet.budget)
    if (!line.stated) html += "<li>" + escaped(line.input.name) + ": " + foreign(line.basis) + "</li>\n";
  return html + "</ul>\n";
}

struct Requirement {
  std::string what;
  double found, limit, uncertainty;  // shares
  bool both_sides = true;            // else found is a size, and the limit the most that it may be
};

std::vector<Requirement> requirements(const CalibrationSheet& sheet) {
  std::vector<Requirement> list;
  if (!sheet.setup) return list;
  const LabSetup& setup = *sheet.setup;
  const double relative = sheet.factor.expanded_uncertainty / sheet.factor.value;
  if (sheet.nominal)
    list.push_back({"departure from the nominal factor", sheet.factor.value / *sheet.nominal - 1.0,
                    setup.objective_tolerance + setup.relay_tolerance + setup.tube_lens_tolerance, relative});
  if (setup.tolerance) list.push_back({"relative U", relative, *setup.tolerance, 0.0, false});
  if (setup.tolerance && sheet.before)
    list.push_back({"change against record " + std::to_string(sheet.before->record),
                    sheet.factor.value / sheet.before->value - 1.0, *setup.tolerance, relative});
  return list;
}

std::string verdict(const Requirement& requirement) {
  const double room = requirement.limit - std::abs(requirement.found);
  const std::string close = std::abs(room) < requirement.uncertainty ? ", closer to the limit than U" : "";
  return (room >= 0.0 ? "met" : "<b>not met</b>") + close;
}

std::string conformity(const std::vector<Requirement>& list, NumberStyle style) {
  if (list.empty())
    return "<p>No conformity is stated: there is neither a tolerance nor a nominal factor for this set-up.</p>\n";
  std::vector<std::vector<std::string>> rows;
  for (const Requirement& one : list)
    rows.push_back({escaped(one.what), percent(one.found, 3, style),
                    (one.both_sides ? "within ± " : "at most ") + with_unit(stated(100.0 * one.limit, style), "%"),
                    one.uncertainty > 0.0 ? percent(one.uncertainty, 3, style) : "–", verdict(one)});
  return table("Conformity", {{"Requirement of the lab file"}, {"Found", true}, {"Limit"}, {"U", true}, {"Verdict"}},
               rows, Narrow::stack) +
         "<p>Decision rule: simple acceptance. A requirement is met when the value found lies within its limits; U is "
         "shown beside it and not taken off the limits. For a value close to a limit the probability of a wrong "
         "decision can reach one half; where it is closer than U the verdict says so.</p>\n";
}

struct Content {
  std::string clause, what, where;  // `where` empty: the laboratory must add it
};

std::vector<Content> general_contents(const CalibrationSheet& sheet, const PageStyle& page_style) {
  const bool placed = !sheet.laboratory.empty() && !sheet.address.empty();
  const bool described = sheet.setup && !sheet.setup->microscope.empty() &&
                         !(is_reticle(sheet) ? sheet.setup->eyepiece : sheet.setup->camera).empty();
  return {{"7.8.2", "title", "head of the sheet"},
          {"7.8.2", "laboratory, its address", placed ? "identification" : ""},
          {"7.8.2", "place where it was done", sheet.room.empty() ? "" : "identification"},
          {"7.8.2", "unique identification on every page, number of pages, clear end",
           sheet.record ? "foot of each printed page" : ""},
          {"7.8.2", "customer", ""},
          {"7.8.2", "method", "method"},
          {"7.8.2", "what was calibrated", described ? "set-up" : ""},
          {"7.8.2", "its condition", ""},
          {"7.8.2", "day it was received, where that bears on the results", ""},
          {"7.8.2", "day of the calibration", sheet.calibrated.empty() ? "" : "identification"},
          {"7.8.2", "day of issue", page_style.printed_at.empty() ? "" : "identification"},
          {"7.8.2", "results with their units", "result"},
          {"7.8.2", "departures from the method, if there were any", sheet.accepted.empty() ? "" : "warnings"},
          {"7.8.2", "what others provided, if anything", ""},
          {"7.8.2", "who authorises the sheet", "signatures, once signed"},
          {"7.8.2", "that the results relate to this item only", "not examined"}};
}

std::string contents(const CalibrationSheet& sheet, const PageStyle& page_style, bool conforming) {
  const bool ambient = sheet.setup && sheet.setup->conditions.room;
  const bool traceable = sheet.scale && !sheet.scale->certificate.empty();
  std::vector<Content> list = general_contents(sheet, page_style);
  list.push_back({"7.8.4", "uncertainty", sheet.budget_complete ? "result" : ""});
  list.push_back({"7.8.4", "conditions that bear on the result", ambient ? "set-up" : ""});
  list.push_back({"7.8.4", "traceability", traceable ? "traceability" : ""});
  list.push_back({"7.8.4", "results before and after an adjustment or repair, if there was one", ""});
  if (conforming) list.push_back({"7.8.4", "statement of conformity", "conformity"});
  if (conforming) list.push_back({"7.8.6", "decision rule", "conformity"});
  if (conforming) list.push_back({"7.8.6", "which results and which requirements it is about", "conformity"});
  std::vector<std::vector<std::string>> rows;
  for (const Content& one : list)
    rows.push_back(
        {one.what, one.clause, one.where.empty() ? "<b>the laboratory must add it</b>" : "here: " + one.where});
  return "<p>A sheet that is to serve as a calibration certificate by ISO/IEC 17025:2017 must hold what its clauses "
         "7.8.2, "
         "7.8.4 and 7.8.6 ask for. This list was made from a secondary source and from memory; the standard "
         "decides.</p>\n" +
         table("Contents of a certificate", {{"Content"}, {"Clause"}, {"On this sheet"}}, rows) +
         "<p class=\"small\">A day for the next calibration is shown only because the laboratory’s own lab file asks "
         "for "
         "it. Where a wrong length can hurt somebody, the code that applies and those licensed to decide go "
         "first.</p>\n";
}

}  // namespace

std::string statement_sections(const CalibrationSheet& sheet, const PageStyle& page_style, NumberStyle style) {
  const std::vector<Requirement> list = requirements(sheet);
  return section("Traceability", traceability(sheet)) + section("Not examined", not_examined(sheet)) +
         section("Conformity", conformity(list, style)) +
         section("Contents of a certificate", contents(sheet, page_style, !list.empty()));
}

}  // namespace scale::report
