#include "check_table.h"

#include "columns.h"
#include "text.h"

namespace gradus {
namespace {

using scale::Verdict;

bool is_bad(const CheckOutcome& outcome) {
  return outcome.judgement.verdict == Verdict::drifted || outcome.judgement.verdict == Verdict::mismatch;
}

// The sentence that decided.
std::string reason_of(const CheckOutcome& outcome) {
  const auto& evidence = outcome.judgement.evidence;
  if (evidence.empty()) return "";
  // What only describes stands beside what decides; of the deciding sentences the first is enough.
  const auto describes = [](const scale::Evidence& one) {
    return one.code == "size-agrees" || one.code == "camera-agrees" || one.code == "resolution-ignored" ||
           one.code == "pixel-size-as-calibrated" || one.code == "format-differs";
  };
  const auto wanted = [&](const scale::Evidence& one) {
    if (describes(one)) return false;
    return !is_bad(outcome) || (!one.code.ends_with("-agrees") && one.code != "no-scale-found");
  };
  for (const scale::Evidence& one : evidence)
    if (wanted(one)) return printable(one.message);
  return printable(evidence.front().message);
}

std::string change_words(const CheckOutcome& outcome) {
  if (outcome.judgement.comparisons.empty()) return "";
  const scale::ScaleComparison& first = outcome.judgement.comparisons.front();
  const int decimals = std::min(4, decimals_for(100.0 * first.expanded_uncertainty));
  std::string words = first.relative_change >= 0.0 ? "+" : "";
  return words.append(fixed(100.0 * first.relative_change, decimals)).append(" %");
}

std::string likeness_words(const CheckOutcome& outcome) {
  const auto& like = outcome.judgement.looks_like;
  if (!like) return "";
  return printable(scale::in_words(*like));
}

std::string number_of(std::size_t count, const std::string& what) { return std::to_string(count) + " " + what; }

std::string totals(const CheckRun& run) {
  std::array<std::size_t, 4> count{};
  for (const CheckOutcome& outcome : run.outcomes) ++count[static_cast<std::size_t>(outcome.judgement.verdict)];
  std::string text;
  for (std::size_t i = 0; i < count.size(); ++i)
    text.append(i > 0 ? ", " : "").append(number_of(count[i], scale::name_of(static_cast<Verdict>(i))));
  if (run.skipped > 0) text += "; " + number_of(run.skipped, "checked before and unchanged, skipped");
  if (run.older > 0) text += "; " + number_of(run.older, "older than --since, left out");
  return text + ".\n";
}

std::string affected_sentence(const CheckedSetup& setup) {
  if (setup.count[static_cast<std::size_t>(Verdict::drifted)] == 0) return "";
  const std::string since = setup.last_good.empty() ? "since its calibration, as no check was good since"
                                                    : "since its last good check of " + setup.last_good;
  return printable(setup.name) + " has drifted; recorded " + since + ": " + affected_words(setup.affected) + ".\n";
}

}  // namespace

std::string check_table(const CheckRun& run) {
  const std::vector<std::string> head = {"image", "set-up", "verdict", "change", "looks like", "why"};
  Columns columns({false, false, false, true, false, false});
  std::vector<std::vector<std::string>> rows;
  for (const CheckOutcome& outcome : run.outcomes)
    rows.push_back({printable(outcome.image), outcome.setup ? printable(run.lab.setups[*outcome.setup].name) : "",
                    scale::name_of(outcome.judgement.verdict), change_words(outcome), likeness_words(outcome),
                    reason_of(outcome)});
  columns.widen(head);
  // The last column is a sentence: the rule beneath need not be as long.
  for (auto row : rows) {
    row.back().clear();
    columns.widen(row);
  }
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  text += columns.rule() + totals(run);
  for (const CheckedSetup& setup : run.setups) {
    text += affected_sentence(setup);
    for (const scale::Warning& alert : setup.alerts)
      text += "Alert, " + printable(setup.name) + ": " + alert.message + ".\n";
    if (setup.record)
      text += "Recorded: " + printable(setup.name) + ", record " + std::to_string(setup.record->number) + ".\n";
  }
  return text;
}

std::string check_list(const CheckRun& run) {
  std::string text;
  for (const CheckOutcome& outcome : run.outcomes)
    if (is_bad(outcome))
      text += std::string(scale::name_of(outcome.judgement.verdict)) + "  " + printable(outcome.image) + ": " +
              reason_of(outcome) + (likeness_words(outcome).empty() ? "" : "; looks like " + likeness_words(outcome)) +
              "\n";
  for (const CheckedSetup& setup : run.setups) text += affected_sentence(setup);
  return text;
}

}  // namespace gradus
