#include "eyepiece_table.h"

#include <algorithm>

#include "budget_table.h"
#include "columns.h"
#include "table.h"
#include "text.h"

namespace gradus {
namespace {

constexpr std::size_t kLineLength = 100;

std::string scale_words(const AxisOutcome& axis) {
  return std::to_string(axis.graduations) + " lines, " + fixed(axis.pitch_px, 3) + " px";
}

std::vector<std::string> row_of(const Outcome& outcome) {
  const scale::CalibrationFactor& factor = outcome.reticle->um_per_division;
  const scale::Reported reported = scale::for_report(factor.value, factor.expanded_uncertainty);
  return {printable(outcome.image),
          fixed(reported.value, reported.decimals),
          fixed(reported.uncertainty, reported.decimals),
          fixed(factor.coverage_factor, 2),
          scale_words(outcome.axes[1]),
          scale_words(outcome.axes[0]),
          notes_of(outcome)};
}

// "reticle=micrometer" as they are read by eye, in lines of a terminal.
std::string coincidence_words(const Outcome& outcome) {
  if (outcome.reticle->coincidences.empty()) return "";
  std::string text = printable(outcome.image) + ": the zero lines lie together; reticle = micrometer where lines do:\n";
  std::string line;
  for (const scale::Coincidence& pair : outcome.reticle->coincidences) {
    const std::string words = std::to_string(pair.reticle) + '=' + std::to_string(pair.micrometer);
    if (line.size() + words.size() > kLineLength) text += line + '\n', line.clear();
    line += (line.empty() ? "  " : " ") + words;
  }
  return text + line + '\n';
}

std::string meaning_of(const std::vector<Outcome>& outcomes) {
  const auto first = std::find_if(outcomes.begin(), outcomes.end(), [](const Outcome& o) { return o.reticle; });
  if (first == outcomes.end()) return "";
  const bool lab = !first->setup.empty();
  std::string words =
      "µm/div is the worth of one reticle division, U its expanded uncertainty (coverage factor k, about 95 %).\n"
      "In U: " +
      component_names(first->reticle->budget, true) + ".\n";
  if (!first->reticle->budget_complete)
    words += "Not stated and not in U: " + component_names(first->reticle->budget, false) + "; state it " +
             (lab ? "in the lab file.\n" : "with --division-uncertainty.\n");
  if (!lab) return words + "Temperature, slope of the slide and refocusing are in U with a lab file only (--lab).\n";
  return words + (first->reticle->budget_complete ? "The budget is complete, the room's conditions included.\n" : "");
}

}  // namespace

std::string eyepiece_table(const std::vector<Outcome>& outcomes) {
  const std::vector<std::string> head = {"image", "µm/div", "U", "k", "reticle", "micrometer", "notes"};
  Columns layout({false, true, true, true, true, true, false});
  layout.widen(head);
  for (const Outcome& outcome : outcomes) {
    if (outcome.reticle) layout.widen(row_of(outcome));
    layout.widen_first(printable(outcome.image));
  }
  std::string text = layout.line(head) + layout.rule(), beneath;
  for (const Outcome& outcome : outcomes) {
    text += outcome.reticle ? layout.line(row_of(outcome)) : refused_line(layout, outcome);
    if (outcome.reticle) beneath += coincidence_words(outcome);
  }
  return text + layout.rule() + count_words(outcomes) + beneath + meaning_of(outcomes);
}

}  // namespace gradus
