#include "setups_table.h"

#include <cmath>
#include <set>

#include "budget_table.h"
#include "columns.h"
#include "text.h"

namespace gradus {
namespace {

using Row = std::vector<std::string>;

std::string along_words(const std::optional<scale::CalibrationFactor>& factor) {
  if (!factor) return "-";
  const scale::Reported reported = scale::for_report(factor->value, factor->expanded_uncertainty);
  return fixed(reported.value, reported.decimals);
}

std::string off_words(const SetupOutcome& setup) {
  if (!setup.nominal) return "-";
  const double off = setup.calibration->um_per_pixel.value / *setup.nominal - 1.0;
  std::string text = off >= 0.0 ? "+" : "";
  return text.append(percent(off));
}

std::string shots_words(const scale::SetupCalibration& calibration) {
  std::set<std::size_t> all, used;  // two rulings of one picture are one shot
  for (const scale::ShotFactor& shot : calibration.shots) {
    all.insert(shot.shot);
    if (shot.used) used.insert(shot.shot);
  }
  return std::to_string(used.size()).append(" of ").append(std::to_string(all.size()));
}

Row row_of(const SetupOutcome& setup) {
  const scale::SetupCalibration& calibration = *setup.calibration;
  const scale::CalibrationFactor& factor = calibration.um_per_pixel;
  const scale::Reported reported = scale::for_report(factor.value, factor.expanded_uncertainty);
  return {printable(setup.name),
          fixed(reported.value, reported.decimals),
          fixed(reported.uncertainty, reported.decimals),
          fixed(factor.coverage_factor, 2),
          along_words(calibration.x),
          along_words(calibration.y),
          shots_words(calibration),
          off_words(setup),
          setup.record ? std::to_string(setup.record->number) : "-",
          setup.status() + (calibration.budget_complete ? "" : ", budget incomplete")};
}

std::string notes_of(const SetupOutcome& setup) {
  std::string text;
  for (const scale::Warning& flag : setup.flags) text += setup.name + ": " + flag.code + ": " + flag.message + "\n";
  return text;
}

std::string monte_carlo_words(const scale::MonteCarlo& sampled, int decimals) {
  std::string text = "Monte Carlo, ";
  text.append(std::to_string(sampled.trials)).append(" trials: ").append(fixed(sampled.low, decimals + 1));
  text.append(" to ").append(fixed(sampled.high, decimals + 1)).append(" µm/px holds 95.45 %; u = ");
  return text.append(digits(1000.0 * sampled.standard_uncertainty)).append(" nm/px\n");
}

std::string sum_words(const SetupOutcome& setup) {
  const scale::SetupCalibration& calibration = *setup.calibration;
  std::string text = factor_words(calibration.um_per_pixel, calibration.degrees_of_freedom, "px") + "\n";
  if (!setup.monte_carlo) return text;
  const scale::CalibrationFactor& factor = calibration.um_per_pixel;
  return text.append(
      monte_carlo_words(*setup.monte_carlo, scale::for_report(factor.value, factor.expanded_uncertainty).decimals));
}

std::string separation_words(const scale::Separation& separation) {
  if (!separation.done) return "Optics and scale were not told apart: " + separation.reason + ".\n";
  const std::string optics =
      separation.significant
          ? "the optics bend the field by up to " + digits(separation.optics_max_um) + " µm"
          : "no distortion of the optics was found (up to " + digits(separation.optics_max_um) + " µm is in the noise)";
  return "From " + std::to_string(separation.shots) + " shots with the scale moved: " + optics +
         "; the scale's graduations lie " + digits(separation.graduations_rms_um) +
         " µm (rms) from the places taken for them.\n";
}

std::string budget_table(const SetupOutcome& setup) {
  return "Budget of " + printable(setup.name) + "\n" + budget_lines(setup.calibration->budget, "px") +
         sum_words(setup) + separation_words(setup.calibration->separation);
}

}  // namespace

std::string setups_table(const std::vector<SetupOutcome>& setups) {
  const Row head = {"set-up", "µm/px", "U", "k", "x", "y", "shots", "off nominal", "record", "state"};
  Columns columns({false, true, true, true, true, true, true, true, true, false});
  columns.widen(head);
  for (const SetupOutcome& setup : setups) {
    if (setup.calibration) columns.widen(row_of(setup));
    columns.widen_first(printable(setup.name));
  }
  std::string text = columns.line(head) + columns.rule(), notes;
  for (const SetupOutcome& setup : setups) {
    notes += notes_of(setup);
    if (setup.calibration)
      text += columns.line(row_of(setup));
    else
      text += columns.line(
          printable(setup.name),
          setup.images == 0 ? "no shots" : "none of its " + std::to_string(setup.images) + " images could be used");
  }
  return text + columns.rule() + notes;
}

std::string budget_tables(const std::vector<SetupOutcome>& setups) {
  std::string text;
  for (const SetupOutcome& setup : setups)
    if (setup.calibration) text.append("\n").append(budget_table(setup));
  return text;
}

}  // namespace gradus
