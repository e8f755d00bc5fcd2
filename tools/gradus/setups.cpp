#include "setups.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "flags.h"
#include "text.h"

namespace gradus {
namespace {

// The samples of JCGM 101 are drawn from this seed, so that a run can be repeated.
constexpr std::uint64_t kSeed = 20080101;

// What each set-up's factor is expected to be, and how far it may lie from that: by the optics, and as it is
// registered.
struct Expected {
  std::optional<double> factor;
  double optics = 0.0;
  std::optional<double> registered;

  double off(double found) const { return std::abs(std::log(found / *factor)); }
};

std::vector<Expected> expectations(const scale::Lab& lab, const std::vector<std::optional<RegisteredFactor>>& before) {
  std::vector<Expected> list;
  for (std::size_t i = 0; i < lab.setups.size(); ++i) {
    Expected expected;
    expected.optics = optics_tolerance(lab.setups[i]);
    if (const auto nominal = lab.setups[i].nominal()) expected.factor = nominal->value;
    if (before[i]) {
      expected.factor = before[i]->value;
      expected.registered = lab.setups[i].tolerance;
    }
    list.push_back(expected);
  }
  return list;
}

// Engravings alone tell set-ups apart that differ by more than the optics' tolerance, two registered factors closer
// ones.
bool fits_better(double found, const Expected& other, const Expected& own) {
  if (!other.factor || other.off(found) >= own.off(found)) return false;
  const bool known = own.registered && other.registered;
  return own.off(found) > (known ? *own.registered : own.optics) &&
         other.off(found) <= (known ? *other.registered : other.optics);
}

// The set-up that a factor fits better than its own, when it does not fit its own.
std::optional<std::size_t> looks_like(double found, std::size_t own, const std::vector<Expected>& expected) {
  if (!expected[own].factor) return std::nullopt;
  std::optional<std::size_t> best;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    if (i == own || !fits_better(found, expected[i], expected[own])) continue;
    if (!best || expected[i].off(found) < expected[*best].off(found)) best = i;
  }
  return best;
}

// Shots that fit their own set-up; all of them, with a flag, when each fits another.
std::vector<std::size_t> fitting_shots(SetupOutcome& outcome, const scale::Lab& lab, std::vector<Outcome>& outcomes,
                                       const std::vector<std::size_t>& shots, const std::vector<Expected>& expected) {
  std::vector<std::size_t> fitting;
  std::set<std::string> others;
  for (const std::size_t place : shots) {
    const double found = outcomes[place].calibration->um_per_pixel.value;
    const auto like = looks_like(found, outcome.setup, expected);
    if (!like) {
      fitting.push_back(place);
      continue;
    }
    const std::string& other = lab.setups[*like].name;
    others.insert(other);
    outcomes[place].warnings.push_back({"looks-like", "looks like " + other + ": " +
                                                          fixed(found, decimals_for(0.001 * found)) +
                                                          " µm/px fits it better than " + outcome.name +
                                                          "; was the objective changed or the file "
                                                          "misplaced?"});
  }
  if (!fitting.empty() || shots.empty()) return fitting;
  std::string names;
  for (const std::string& other : others) names += (names.empty() ? "" : " or ") + other;
  outcome.flags.push_back({"looks-like", "all its shots look like " + names});
  return shots;
}

void calibrate(SetupOutcome& outcome, const scale::Lab& lab, std::vector<Outcome>& outcomes, const SetupRun& run) {
  const scale::LabSetup& setup = lab.setups[outcome.setup];
  const scale::LabScale& scale = lab.scales[setup.scale];
  std::vector<scale::Shot> shots;
  for (const std::size_t place : outcome.outcomes) shots.push_back(*outcomes[place].shot);
  outcome.calibration = scale::calibrate_setup(shots, scale.reference, setup.conditions);
  outcome.warnings = outcome.calibration->warnings;
  const std::vector<scale::Warning> flags =
      flags_of({outcome.calibration->um_per_pixel, outcome.nominal, outcome.before, "px"}, setup, scale, run.today);
  outcome.flags.insert(outcome.flags.end(), flags.begin(), flags.end());
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
