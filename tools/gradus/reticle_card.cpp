#include "reticle_card.h"

#include <set>

#include "budget_table.h"
#include "columns.h"
#include "messages.h"
#include "outputs.h"
#include "text.h"

namespace gradus {
namespace {

constexpr int kDivisions = 100;

std::string due_words(const scale::CardColumn& column) {
  return column.due.empty() ? "-" : column.due + (column.overdue ? " OVERDUE" : "");
}

std::string facts_table(const scale::ReticleCard& card) {
  const std::vector<std::string> head = {"set-up", "µm/div", "k", "relative U", "calibrated", "due", "record", "scale"};
  std::vector<std::vector<std::string>> rows;
  for (const scale::CardColumn& column : card.columns) {
    const scale::CalibrationFactor& factor = column.um_per_division;
    rows.push_back({printable(column.setup), value_words(factor.value, factor.expanded_uncertainty),
                    fixed(factor.coverage_factor, 2), percent(factor.expanded_uncertainty / factor.value),
                    column.calibrated, due_words(column), std::to_string(column.record), printable(column.scale)});
  }
  Columns columns({false, true, true, true, false, false, true, false});
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  return text + columns.rule();
}

std::string lengths_table(const scale::ReticleCard& card) {
  std::vector<std::string> head = {"div"};
  std::vector<bool> right = {true};
  for (const scale::CardColumn& column : card.columns) head.push_back(printable(column.setup)), right.push_back(true);
  std::vector<std::vector<std::string>> rows;
  for (int divisions = 1; divisions <= kDivisions; ++divisions) {
    rows.push_back({std::to_string(divisions)});
    for (const scale::CardColumn& column : card.columns)
      rows.back().push_back(fixed(divisions * column.um_per_division.value, scale::card_decimals(column)));
  }
  Columns columns(right);
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (std::size_t i = 0; i < rows.size(); ++i) {
    text += columns.line(rows[i]);
    if (i % 10 == 9) text += columns.rule();
  }
  return text;
}

std::string objective_words(const scale::LabSetup& setup) {
  std::string text = setup.conditions.magnification ? shortest(*setup.conditions.magnification) + "×" : "";
  if (setup.zoom) text += (text.empty() ? "zoom " : ", zoom ") + shortest(*setup.zoom);
  return text;
}

// Why there is nothing to print.
std::string none_words(const LabRoom& room, const CardOptions& options, const scale::ReticleCard& card) {
  if (!card.missing.empty()) return "no reticle is calibrated yet; read the scales and add --record";
  std::set<std::string> microscopes;
  bool any = false;
  for (const scale::LabSetup& setup : room.lab.setups) {
    any = any || setup.reticle;
    if (setup.reticle && !setup.microscope.empty()) microscopes.insert("'" + setup.microscope + "'");
  }
  const std::string none = room.path + ": there is no set-up of kind reticle";
  if (!any) return none + "; write kind = \"reticle\" for one read by eye";
  std::string there;
  for (const std::string& name : microscopes) there += (there.empty() ? "" : ", ") + name;
  return none + " on '" + options.microscope + "'; " +
         (there.empty() ? "those there are name no microscope, leave --microscope out" : "there are some on " + there);
}

int fail(const std::string& problem) {
  complain(problem);
  return 2;
}

}  // namespace

scale::ReticleCard card_of(const scale::Lab& lab, const std::vector<HeldReticle>& held, const std::string& day) {
  scale::ReticleCard card{valid_utf8(lab.room), lab.laboratory, lab.address, day, {}, {}};
  for (const HeldReticle& one : held) {
    if (!one.um_per_division) {
      card.missing.push_back(one.setup->name);
      continue;
    }
    const std::string due = one.due ? date_words(*one.due) : "";
    card.columns.push_back({one.setup->name, objective_words(*one.setup), *one.um_per_division, one.date(), due,
                            !due.empty() && due < day, one.budget_complete, one.record, one.scale});
  }
  return card;
}

std::string card_text(const scale::ReticleCard& card) {
  std::string text = "Reticle divisions in micrometres" + (card.room.empty() ? "" : ", " + printable(card.room)) +
                     ", " + card.day + "\n" + facts_table(card) + "\n" + lengths_table(card) +
                     "The relative U is of every length here; reading both ends by eye adds its own.\n";
  for (const std::string& name : card.missing) text += "Not calibrated: " + printable(name) + ".\n";
  for (const scale::CardColumn& column : card.columns)
    if (!column.budget_complete) text += "Not every component of U is stated: " + printable(column.setup) + ".\n";
  return text;
}

int run_card(const LabRoom& room, const CardOptions& options, const std::string& made_at, bool quiet) {
  std::string problem;
  std::vector<HeldReticle> all = held_reticles(room, problem);
  if (!problem.empty()) return fail(problem);
  if (const std::string wrong = output_problem({options.page, "", ""}, {}); !wrong.empty()) return fail(wrong);
  if (!options.microscope.empty())
    std::erase_if(all, [&](const HeldReticle& held) { return held.setup->microscope != options.microscope; });
  const std::string now = made_at.empty() ? utc_now() : made_at;
  const scale::ReticleCard card = card_of(room.lab, all, now.substr(0, 10));
  if (card.columns.empty()) return fail(none_words(room, options, card));
  if (!options.page.empty())
    if (const std::string wrong =
            deliver(options.page, scale::card_page(card, {false, now, "gradus " GRADUS_VERSION, ""}));
        !wrong.empty())
      return fail(wrong);
  if (quiet) return 0;
  const std::string wrong = deliver("-", card_text(card));
  return wrong.empty() ? 0 : fail(wrong);
}

}  // namespace gradus
