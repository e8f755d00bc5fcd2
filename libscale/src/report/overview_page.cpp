#include <scale/overview_page.h>

#include "report/calibration_sections.h"
#include "report/charts.h"
#include "report/html.h"
#include "report/page.h"

namespace scale {
namespace report {
namespace {

const char* words_of(SetupState state) {
  switch (state) {
    case SetupState::in_order:
      return "in order";
    case SetupState::due_soon:
      return "due soon";
    case SetupState::images_astray:
      return "wrong images";
    case SetupState::overdue:
      return "overdue";
    case SetupState::not_calibrated:
      return "not calibrated";
    case SetupState::drifted:
      return "drifted";
  }
  return "";
}

std::string day(const std::string& date) { return "<span class=\"q\">" + escaped(date) + "</span>"; }

std::vector<std::string> row_cells(const OverviewRow& row, const std::string& id, NumberStyle style) {
  const std::string name =
      row.page.empty() ? foreign(row.setup) : "<a href=\"" + escaped(row.page) + "\">" + foreign(row.setup) + "</a>";
  const std::string optics = row.optics.empty() ? "" : "<br><span class=\"small\">" + foreign(row.optics) + "</span>";
  // Without check shots there is no line to draw, but there may be images that were checked.
  const std::string line = row.checks.empty() && !row.checked.empty() ? "" : sparkline(row.checks, id, style);
  const std::string counted = row.checked.empty() ? "" : "<div class=\"small\">" + escaped(row.checked) + "</div>";
  const std::string checks = row.checks_page.empty() ? ""
                                                     : "<div><a class=\"small\" href=\"" + escaped(row.checks_page) +
                                                           "\">checks of " + foreign(row.setup) + "</a></div>";
  const std::string state = "<span class=\"q\">" + state_sign(row.state) + " <b>" + words_of(row.state) +
                            "</b></span>" +
                            (row.remark.empty() ? "" : "<br><span class=\"small\">" + foreign(row.remark) + "</span>");
  return {name + optics, state, row.factor ? factor_words(*row.factor, row.unit, style) : "–",
          (row.calibrated.empty() ? "–" : day(row.calibrated)) + "<br><span class=\"small q\">due " +
              (row.due.empty() ? "not stated" : day(row.due)) + "</span>",
          line + counted + checks};
}

std::string counts(const RoomOverview& overview) {
  std::string words;
  for (const SetupState state : {SetupState::in_order, SetupState::due_soon, SetupState::images_astray,
                                 SetupState::overdue, SetupState::drifted, SetupState::not_calibrated}) {
    int count = 0;
    for (const OverviewRow& row : overview.rows) count += row.state == state ? 1 : 0;
    if (count > 0)
      words += (words.empty() ? "" : ", ") + std::to_string(count) +
               (state == SetupState::images_astray ? " with " : " ") + words_of(state);
  }
  return "<p>" + std::to_string(overview.rows.size()) + (overview.rows.size() == 1 ? " set-up: " : " set-ups: ") +
         words + ".</p>\n";
}

std::string further(const RoomOverview& overview) {
  if (overview.further.empty()) return "";
  std::string list = "<ul>\n";
  for (const auto& [title, address] : overview.further)
    list += "<li><a href=\"" + escaped(address) + "\">" + foreign(title) + "</a></li>\n";
  return section("Further pages", list + "</ul>\n");
}

std::string refused(const RoomOverview& overview) {
  if (overview.refused.empty()) return "";
  std::string list = "<ul>\n";
  for (const auto& [image, reason] : overview.refused)
    list += "<li>" + foreign(image) + ": " + foreign(reason) + "</li>\n";
  return section("Refused", list + "</ul>\n");
}

std::string setups(const RoomOverview& overview, NumberStyle style) {
  if (overview.rows.empty()) return "";
  std::vector<std::vector<std::string>> rows;
  for (const OverviewRow& row : overview.rows)
    rows.push_back(row_cells(row, "checks-" + std::to_string(rows.size() + 1), style));
  const std::vector<Column> columns = {{"Set-up"}, {"State"}, {"Factor", true}, {"Calibrated"}, {"Checks"}};
  return section("Set-ups", counts(overview) + table("Set-ups", columns, rows, Narrow::stack), true);
}

std::string register_words(const RoomOverview& overview) {
  if (!overview.chain) return "<p>There is no register yet.</p>\n";
  return "<p>" + std::to_string(overview.chain->records) + (overview.chain->records == 1 ? " record" : " records") +
         ", all as they were written. Hash at printing: <span class=\"hash\">" + escaped(overview.chain->head) +
         "</span></p>\n";
}

}  // namespace
}  // namespace report

std::string overview_page(const RoomOverview& overview, const PageStyle& style) {
  using namespace report;
  const std::string content = setups(overview, numbers_of(style)) + further(overview) + refused(overview) +
                              section("Register", register_words(overview));
  const std::string title = overview.room.empty() ? "Room" : overview.room;
  return page({title, "Set-ups of a room", place_words("", overview.laboratory, overview.address), title}, content,
              style);
}

}  // namespace scale
