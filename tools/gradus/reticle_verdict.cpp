#include "reticle_verdict.h"

#include "messages.h"

namespace gradus {

void judge_reticle(ReticleOutcome& outcome, const LabRoom& room, const std::chrono::year_month_day& today) {
  const scale::LabSetup& setup = room.lab.setups[*outcome.setup];
  if (const auto nominal = setup.nominal_division()) outcome.nominal = nominal->value;
  if (!outcome.calibration) return;
  outcome.flags = flags_of({outcome.calibration->um_per_division, outcome.nominal, outcome.before, "div"}, setup,
                           room.lab.scales[setup.scale], today);
  if (setup.recalibrate_every_days)
    outcome.due = std::chrono::sys_days(today) + std::chrono::days(*setup.recalibrate_every_days);
}

void tell_reticles(const std::vector<ReticleOutcome>& outcomes, bool quiet) {
  for (const ReticleOutcome& outcome : outcomes) {
    const std::string name = outcome.set.setup.empty() ? "" : outcome.set.setup + ": ";
    if (!outcome.calibration) {
      complain(name + outcome.reason.message);
      continue;
    }
    if (quiet) continue;
    for (const scale::Warning& flag : outcome.flags) warn(name + flag.message);
    for (const scale::Warning& warning : outcome.warnings()) warn(name + warning.message);
  }
}

bool record_reticles(std::vector<ReticleOutcome>& outcomes, const LabRoom& room, const RecordPlan& plan) {
  auto reg = register_of(room);
  std::vector<std::string> remarks, problems;
  if (!reg) problems.push_back(reg.error().message);
  for (ReticleOutcome& outcome : outcomes) {
    if (!reg || !outcome.calibration) continue;
    const std::string accepted = outcome.flags.empty() ? "" : plan.accept;
    outcome.record =
        record_one(*reg, room, {outcome.set.setup, outcome.flags, reticle_record_content(outcome, &room.lab, accepted)},
                   plan, remarks, problems);
  }
  for (const std::string& line : remarks) complain(line);
  for (const std::string& problem : problems) complain(problem);
  return problems.empty();
}

}  // namespace gradus
