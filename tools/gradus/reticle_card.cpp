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

std::string facts_table(const Card& card) {
  const std::vector<std::string> head = {"set-up", "µm/div", "k", "relative U", "calibrated", "due", "record", "scale"};
  std::vector<std::vector<std::string>> rows;
  for (const HeldReticle& held : card.columns)
    rows.push_back({printable(held.setup->name),
                    value_words(held.um_per_division->value, held.um_per_division->expanded_uncertainty),
                    fixed(held.um_per_division->coverage_factor, 2),
                    percent(held.um_per_division->expanded_uncertainty / held.um_per_division->value), held.date(),
                    due_words(held, card.day), std::to_string(held.record), printable(held.scale)});
  Columns columns({false, true, true, true, false, false, true, false});
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  return text + columns.rule();
}

std::string lengths_table(const Card& card) {
  std::vector<std::string> head = {"div"};
  std::vector<bool> right = {true};
  for (const HeldReticle& held : card.columns) head.push_back(printable(held.setup->name)), right.push_back(true);
  std::vector<std::vector<std::string>> rows;
  for (int divisions = 1; divisions <= kDivisions; ++divisions) {
    rows.push_back({std::to_string(divisions)});
    for (const HeldReticle& held : card.columns)
      rows.back().push_back(fixed(divisions * held.um_per_division->value, card_decimals(*held.um_per_division)));
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

Card card_of(const LabRoom& room, const CardOptions& options, std::vector<HeldReticle> all, const std::string& day) {
  Card card{room.lab.room, day, "gradus " GRADUS_VERSION, {}, {}};
  for (HeldReticle& held : all) {
    if (!options.microscope.empty() && held.setup->microscope != options.microscope) continue;
    if (held.um_per_division)
      card.columns.push_back(std::move(held));
    else
      card.missing.push_back(held.setup->name);
  }
  return card;
}

// Why there is nothing to print.
std::string none_words(const LabRoom& room, const CardOptions& options, const Card& card) {
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

int card_decimals(const scale::CalibrationFactor& um_per_division) {
  return decimals_for(kDivisions * um_per_division.expanded_uncertainty);
}

bool is_overdue(const HeldReticle& held, const std::string& day) { return held.due && date_words(*held.due) < day; }

std::string due_words(const HeldReticle& held, const std::string& day) {
  if (!held.due) return "-";
  return date_words(*held.due) + (is_overdue(held, day) ? " OVERDUE" : "");
}

std::string card_text(const Card& card) {
  std::string text = "Reticle divisions in micrometres" + (card.room.empty() ? "" : ", " + printable(card.room)) +
                     ", " + card.day + "\n" + facts_table(card) + "\n" + lengths_table(card) +
                     "The relative U is of every length here; reading both ends by eye adds its own.\n";
  for (const std::string& name : card.missing) text += "Not calibrated: " + printable(name) + ".\n";
  for (const HeldReticle& held : card.columns)
    if (!held.budget_complete) text += "Not every component of U is stated: " + printable(held.setup->name) + ".\n";
  return text;
}

int run_card(const LabRoom& room, const CardOptions& options, const std::string& made_at, bool quiet) {
  std::string problem;
  std::vector<HeldReticle> all = held_reticles(room, problem);
  if (!problem.empty()) return fail(problem);
  if (const std::string wrong = output_problem({options.page, "", ""}, {}); !wrong.empty()) return fail(wrong);
  const Card card = card_of(room, options, std::move(all), (made_at.empty() ? utc_now() : made_at).substr(0, 10));
  if (card.columns.empty()) return fail(none_words(room, options, card));
  if (!options.page.empty())
    if (const std::string wrong = deliver(options.page, card_page(card)); !wrong.empty()) return fail(wrong);
  if (quiet) return 0;
  const std::string wrong = deliver("-", card_text(card));
  return wrong.empty() ? 0 : fail(wrong);
}

}  // namespace gradus
