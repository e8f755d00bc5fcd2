#include "setups_table.h"

#include <algorithm>
#include <cmath>

#include "columns.h"
#include "text.h"

namespace gradus {
namespace {

using Row = std::vector<std::string>;

std::string percent(double share) { return fixed(100.0 * share, 2) + " %"; }

// Three digits, as a budget is read and not computed with.
std::string digits(double value) {
  if (value == 0.0) return "0";
  if (std::abs(value) >= 1e-3 && std::abs(value) < 1e4) {
    const int leading = static_cast<int>(std::floor(std::log10(std::abs(value))));
    return fixed(value, std::max(0, 2 - leading));
  }
  const int exponent = static_cast<int>(std::floor(std::log10(std::abs(value))));
  return fixed(value / std::pow(10.0, exponent), 2).append("e").append(std::to_string(exponent));
}

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
  const auto used = std::count_if(calibration.shots.begin(), calibration.shots.end(),
                                  [](const scale::ShotFactor& shot) { return shot.used; });
  return std::to_string(used).append(" of ").append(std::to_string(calibration.shots.size()));
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
  const scale::CalibrationFactor& factor = calibration.um_per_pixel;
  const scale::Reported reported = scale::for_report(factor.value, factor.expanded_uncertainty);
  const double freedom = calibration.degrees_of_freedom;
  std::string text = "(";
  text.append(fixed(reported.value, reported.decimals)).append(" ± ");
  text.append(fixed(reported.uncertainty, reported.decimals)).append(") µm/px, k = ");
  text.append(fixed(factor.coverage_factor, 2)).append(" (95.45 %, effective degrees of freedom ");
  text.append(std::isfinite(freedom) ? fixed(std::floor(freedom * 10.0) / 10.0, 1) : "infinite");
  text.append("), relative U ").append(percent(factor.expanded_uncertainty / factor.value)).append("\n");
  if (setup.monte_carlo) text.append(monte_carlo_words(*setup.monte_carlo, reported.decimals));
  return text;
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
  const scale::SetupCalibration& calibration = *setup.calibration;
  const Row head = {"component", "u(x)", "unit", "distribution", "d.o.f.", "u(f), nm/px", "basis"};
  std::vector<Row> rows;
  for (const scale::BudgetLine& line : calibration.budget) {
    if (!line.stated) {
      rows.push_back({line.input.name, "?", "", "", "", "not stated", line.basis});
      continue;
    }
    const double freedom = line.input.degrees_of_freedom;
    rows.push_back({line.input.name, digits(line.input.standard_uncertainty), line.unit,
                    scale::name_of(line.input.distribution), std::isfinite(freedom) ? fixed(freedom, 0) : "∞",
                    digits(1000.0 * line.contribution), line.basis});
  }
  Columns columns({false, true, false, false, true, true, false});
  columns.widen(head);
  for (const Row& row : rows) columns.widen(row);
  std::string text = "Budget of " + printable(setup.name) + "\n" + columns.line(head) + columns.rule();
  for (const Row& row : rows) text += columns.line(row);
  return text + columns.rule() + sum_words(setup) + separation_words(calibration.separation);
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
