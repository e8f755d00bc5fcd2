#include "eyepiece_room.h"

#include <algorithm>

#include "budget_table.h"
#include "messages.h"
#include "reticle_verdict.h"
#include "text.h"

namespace gradus {
namespace {

std::size_t place_of(const LabRoom& room, const std::string& name) {
  const auto& setups = room.lab.setups;
  const auto found = std::find_if(setups.begin(), setups.end(), [&](const auto& setup) { return setup.name == name; });
  return static_cast<std::size_t>(found - setups.begin());
}

}  // namespace

ReticleOutcome reticle_outcome_of(const Outcome& outcome) {
  ReticleOutcome verdict;
  verdict.set.setup = outcome.setup;
  verdict.picture = outcome.image, verdict.sha256 = outcome.sha256;
  verdict.division_um = outcome.division_um;
  verdict.reason = outcome.reason;
  if (!outcome.reticle) return verdict;
  scale::ReticleCalibration& calibration = verdict.calibration.emplace();
  calibration.um_per_division = outcome.reticle->um_per_division;
  calibration.reading_uncertainty = outcome.reticle->fit_uncertainty;
  calibration.degrees_of_freedom = outcome.reticle->degrees_of_freedom;
  calibration.budget_complete = outcome.reticle->budget_complete;
  calibration.budget = outcome.reticle->budget;
  // Of the micrometer alone; the reticle's budget has its own.
  for (const scale::Warning& warning : outcome.warnings)
    if (warning.code != "budget-incomplete") verdict.seen.push_back(warning);
  if (outcome.shot) verdict.input = input_json(outcome);
  return verdict;
}

std::string eyepiece_problem(const LabRoom& room, const LabOptions& lab, int divisions, std::size_t images,
                             bool one_only) {
  if (lab.setup.empty()) return "";
  const scale::LabSetup& setup = room.lab.setups[place_of(room, lab.setup)];
  if (divisions == 0)
    return setup.reticle ? room.path + ": the set-up '" + lab.setup + "' is of a reticle; add --reticle " +
                               (setup.reticle_divisions > 0 ? std::to_string(setup.reticle_divisions) : "N") +
                               " for a picture of it through the eyepiece, or use gradus reticle for readings by eye"
                         : "";
  if (!setup.reticle)
    return room.path + ": the set-up '" + lab.setup +
           "' is of a camera; name one of kind \"reticle\", or leave --reticle out";
  if (setup.reticle_divisions > 0 && setup.reticle_divisions != divisions)
    return room.path + ": the reticle of '" + lab.setup + "' has " + std::to_string(setup.reticle_divisions) +
           " divisions, --reticle says " + std::to_string(divisions) + "; put one of them right";
  return one_only && images != 1 ? "--record and --report keep what one picture shows; name one image" : "";
}

std::vector<ReticleOutcome> conclude_eyepiece(const LabRoom& room, const LabOptions& lab, const RecordPlan& plan,
                                              const std::vector<Outcome>& outcomes,
                                              const std::vector<std::optional<RegisteredFactor>>& before, bool quiet,
                                              bool& recorded) {
  const std::size_t setup = place_of(room, lab.setup);
  const auto today = scale::parse_date(std::string_view(plan.made_at).substr(0, 10)).value();
  std::vector<ReticleOutcome> verdicts;
  for (const Outcome& outcome : outcomes) {
    if (outcome.unreadable()) continue;
    verdicts.push_back(reticle_outcome_of(outcome));
    verdicts.back().setup = setup;
    verdicts.back().before = before[setup];
    judge_reticle(verdicts.back(), room, today);
  }
  tell_reticles(verdicts, quiet);
  recorded = !lab.record || record_reticles(verdicts, room, plan);
  return verdicts;
}

std::string eyepiece_verdicts(const std::vector<ReticleOutcome>& verdicts, bool budget) {
  std::string text;
  for (const ReticleOutcome& verdict : verdicts) {
    if (!verdict.calibration) continue;
    if (budget)
      text.append("\n")
          .append(printable(verdict.picture))
          .append("\n")
          .append(budget_lines(verdict.calibration->budget, "div"));
    for (const scale::Warning& flag : verdict.flags)
      text.append(flag.code).append(": ").append(flag.message).append("\n");
    if (verdict.record) text.append("Recorded as number ").append(std::to_string(verdict.record->number)).append(".\n");
  }
  return text;
}

}  // namespace gradus
