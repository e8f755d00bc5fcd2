#include "setups.h"

#include <algorithm>
#include <cmath>

#include "text.h"

namespace gradus {
namespace {

// Beyond this the engraving is not the cause: another objective, relay lens, binning or division is (judgement; an
// objective may be off by 5 % by ISO 8039, as reported).
constexpr double kWrongOptics = 0.10;
// The samples of JCGM 101 are drawn from this seed, so that a run can be repeated.
constexpr std::uint64_t kSeed = 20080101;

std::string percent(double share) { return fixed(100.0 * share, 2) + " %"; }

}  // namespace

std::string date_words(const std::chrono::year_month_day& date) {
  const auto padded = [](unsigned value) {
    std::string text = value < 10 ? "0" : "";
    return text.append(std::to_string(value));
  };
  return std::to_string(static_cast<int>(date.year())) + "-" + padded(static_cast<unsigned>(date.month())) + "-" +
         padded(static_cast<unsigned>(date.day()));
}

namespace {

double optics_tolerance(const scale::LabSetup& setup) {
  return setup.objective_tolerance + setup.relay_tolerance + setup.tube_lens_tolerance;
}

// What each set-up's factor is expected to be, and how far it may lie from that.
struct Expected {
  std::optional<double> factor;
  double tolerance = 0.0;

  double off(double found) const { return std::abs(std::log(found / *factor)); }
};

std::vector<Expected> expectations(const scale::Lab& lab, const std::vector<std::optional<RegisteredFactor>>& before) {
  std::vector<Expected> list;
  for (std::size_t i = 0; i < lab.setups.size(); ++i) {
    Expected expected;
    expected.tolerance = optics_tolerance(lab.setups[i]);
    if (const auto nominal = lab.setups[i].nominal()) expected.factor = nominal->value;
    if (before[i]) expected.factor = before[i]->value;
    list.push_back(expected);
  }
  return list;
}

// The set-up that a factor fits better than its own, when it does not fit its own.
std::optional<std::size_t> looks_like(double found, std::size_t own, const std::vector<Expected>& expected) {
  if (!expected[own].factor || expected[own].off(found) <= expected[own].tolerance) return std::nullopt;
  std::optional<std::size_t> best;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    if (i == own || !expected[i].factor || expected[i].off(found) > expected[i].tolerance) continue;
    if (!best || expected[i].off(found) < expected[*best].off(found)) best = i;
  }
  return best;
}

void flag_nominal(SetupOutcome& outcome, const scale::LabSetup& setup) {
  if (!outcome.nominal) return;
  const double ratio = outcome.calibration->um_per_pixel.value / *outcome.nominal, off = std::abs(ratio - 1.0);
  if (off <= optics_tolerance(setup)) return;
  const std::string seen = "the factor is " + percent(off) + (ratio > 1.0 ? " above" : " below") +
                           " the nominal one of " + shortest(*outcome.nominal) + " µm/px";
  if (off > kWrongOptics)
    outcome.flags.push_back({"wrong-optics", seen + "; suspect the wrong objective, binning, relay lens or division"});
  else
    outcome.flags.push_back(
        {"off-nominal", seen + ", beyond the tolerance of " + percent(optics_tolerance(setup)) + " on the optics"});
}

void flag_certificate(SetupOutcome& outcome, const scale::LabScale& scale, const std::chrono::year_month_day& today) {
  if (scale.recalibrate_by && today > *scale.recalibrate_by)
    outcome.flags.push_back({"certificate-overdue", "the certificate of " + scale.name + " ran out on " +
                                                        date_words(*scale.recalibrate_by) + "; have it calibrated"});
  if (scale.calibrated && today < *scale.calibrated)
    outcome.flags.push_back({"certificate-not-yet-valid", "the certificate of " + scale.name + " is of " +
                                                              date_words(*scale.calibrated) +
                                                              ", after the date of this calibration"});
}

void flag_tolerance(SetupOutcome& outcome, const scale::LabSetup& setup) {
  if (!setup.tolerance) return;
  const scale::CalibrationFactor& factor = outcome.calibration->um_per_pixel;
  if (factor.expanded_uncertainty > *setup.tolerance * factor.value)
    outcome.flags.push_back({"uncertainty-beyond-tolerance",
                             "the expanded uncertainty is " + percent(factor.expanded_uncertainty / factor.value) +
                                 ", more than the tolerance of " + percent(*setup.tolerance) + " on the factor"});
  if (!outcome.before) return;
  const double change = factor.value / outcome.before->value - 1.0;
  if (std::abs(change) > *setup.tolerance)
    outcome.flags.push_back({"beyond-tolerance", "the factor is " + percent(std::abs(change)) +
                                                     (change > 0.0 ? " above" : " below") + " that of record " +
                                                     std::to_string(outcome.before->number) + ", more than the " +
                                                     percent(*setup.tolerance) + " of the tolerance"});
}

// Shots that fit their own set-up; all of them, with a flag, when each fits another.
std::vector<std::size_t> fitting_shots(SetupOutcome& outcome, const scale::Lab& lab, std::vector<Outcome>& outcomes,
                                       const std::vector<std::size_t>& shots, const std::vector<Expected>& expected) {
  std::vector<std::size_t> fitting;
  std::string other;
  for (const std::size_t place : shots) {
    const double found = outcomes[place].calibration->um_per_pixel.value;
    const auto like = looks_like(found, outcome.setup, expected);
    if (!like) {
      fitting.push_back(place);
      continue;
    }
    other = lab.setups[*like].name;
    outcomes[place].warnings.push_back({"looks-like", "looks like " + other + ": " +
                                                          fixed(found, decimals_for(0.001 * found)) +
                                                          " µm/px fits it better than " + outcome.name +
                                                          "; was the objective changed or the file "
                                                          "misplaced?"});
  }
  if (!fitting.empty() || shots.empty()) return fitting;
  outcome.flags.push_back({"looks-like", "all its shots look like " + other});
  return shots;
}

void calibrate(SetupOutcome& outcome, const scale::Lab& lab, std::vector<Outcome>& outcomes, const SetupRun& run) {
  const scale::LabSetup& setup = lab.setups[outcome.setup];
  const scale::LabScale& scale = lab.scales[setup.scale];
  std::vector<scale::Shot> shots;
  for (const std::size_t place : outcome.outcomes) shots.push_back(*outcomes[place].shot);
  outcome.calibration = scale::calibrate_setup(shots, scale.reference, setup.conditions);
  outcome.warnings = outcome.calibration->warnings;
  flag_nominal(outcome, setup);
  flag_certificate(outcome, scale, run.today);
  flag_tolerance(outcome, setup);
  if (setup.recalibrate_every_days)
    outcome.due = std::chrono::sys_days(run.today) + std::chrono::days(*setup.recalibrate_every_days);
  if (run.monte_carlo_trials > 0)
    outcome.monte_carlo =
        scale::propagate(*outcome.calibration, scale.reference.certificate_temperature, run.monte_carlo_trials, kSeed);
}

}  // namespace

std::string SetupOutcome::status() const {
  if (calibration) return flags.empty() ? "calibrated" : "flagged";
  return images > 0 ? "refused" : "no-shots";
}

std::vector<SetupOutcome> combine_setups(const scale::Lab& lab, std::vector<Outcome>& outcomes,
                                         const std::vector<std::optional<RegisteredFactor>>& before,
                                         const SetupRun& run) {
  const std::vector<Expected> expected = expectations(lab, before);
  std::vector<SetupOutcome> list;
  for (std::size_t i = 0; i < lab.setups.size(); ++i) {
    if (lab.setups[i].reticle) continue;
    SetupOutcome outcome;
    outcome.setup = i;
    outcome.name = lab.setups[i].name;
    outcome.before = before[i];
    if (const auto nominal = lab.setups[i].nominal()) outcome.nominal = nominal->value;
    std::vector<std::size_t> shots;
    for (std::size_t place = 0; place < outcomes.size(); ++place) {
      if (outcomes[place].setup != outcome.name) continue;
      ++outcome.images;
      if (outcomes[place].shot) shots.push_back(place);
    }
    outcome.outcomes = fitting_shots(outcome, lab, outcomes, shots, expected);
    if (!outcome.outcomes.empty()) calibrate(outcome, lab, outcomes, run);
    list.push_back(std::move(outcome));
  }
  return list;
}

}  // namespace gradus
