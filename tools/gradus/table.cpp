#include "table.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "text.h"

namespace gradus {
namespace {

using Row = std::vector<std::string>;

// The notes column tells what calls for a look; that the reference scale is left out stands beneath the table.
constexpr const char* kSaidBeneath = "budget-incomplete";

std::string joined(const std::vector<std::string>& parts, const std::string& between) {
  std::string result;
  for (const std::string& part : parts) result.append(result.empty() ? "" : between).append(part);
  return result;
}

template <class Values, class Words>
std::string each(const Values& values, const Words& words) {
  std::vector<std::string> parts;
  for (const auto& value : values) parts.push_back(words(value));
  return joined(parts, " / ");
}

std::string residual_words(const scale::CalibratedAxis& axis) {
  const double rms = axis.residual_rms_um;
  return fixed(rms, rms > 0.0 ? std::min(decimals_for(rms), 6) : 1) + " µm";
}

Row calibrated_row(const Outcome& outcome) {
  const scale::CalibrationFactor& factor = outcome.calibration->um_per_pixel;
  const scale::Reported reported = scale::for_report(factor.value, factor.expanded_uncertainty);
  return {printable(outcome.image),
          fixed(reported.value, reported.decimals),
          fixed(reported.uncertainty, reported.decimals),
          fixed(factor.coverage_factor, 2),
          shortest(outcome.division_um) + " µm",
          each(outcome.axes, [](const AxisOutcome& axis) { return std::to_string(axis.graduations); }),
          each(outcome.calibration->axes, residual_words),
          each(outcome.axes, [](const AxisOutcome& axis) { return fixed(axis.direction_deg, 2) + "°"; }),
          notes_of(outcome)};
}

std::string meaning_of(const std::vector<Outcome>& outcomes) {
  const auto first = std::find_if(outcomes.begin(), outcomes.end(), [](const Outcome& o) { return o.calibration; });
  if (first == outcomes.end()) return "";
  std::string words =
      "U is the expanded uncertainty (coverage factor k, about 95 %) of the factor. It holds the fit of the\n"
      "graduations and what the picture shows of the field";
  if (first->calibration->budget_complete) return words + ", and the stated uncertainty of the reference scale.\n";
  return words +
         ". It leaves out the uncertainty of the reference\n"
         "scale itself, which was not stated: state it with --division-uncertainty, or in the lab file.\n";
}

}  // namespace

std::string notes_of(const Outcome& outcome) {
  std::vector<std::string> notes;
  int missing = 0;
  for (const AxisOutcome& axis : outcome.axes) missing += axis.missing;
  if (missing > 0) notes.push_back(std::to_string(missing) + " missing");
  std::set<std::string> seen{kSaidBeneath};
  for (const scale::Warning& warning : outcome.warnings)
    if (seen.insert(warning.code).second) notes.push_back(warning.code);
  return joined(notes, ", ");
}

std::string refused_line(const Columns& layout, const Outcome& outcome) {
  return layout.line(printable(outcome.image),
                     "refused: " + outcome.reason.code + ": " + printable(outcome.reason.message));
}

std::string count_words(const std::vector<Outcome>& outcomes) {
  const auto calibrated =
      std::count_if(outcomes.begin(), outcomes.end(), [](const Outcome& outcome) { return outcome.calibration; });
  const auto refused = static_cast<std::ptrdiff_t>(outcomes.size()) - calibrated;
  std::string words = std::to_string(calibrated).append(" calibrated");
  if (refused > 0) words.append(", ").append(std::to_string(refused)).append(" refused");
  return words.append(".\n");
}

std::string table_of(const std::vector<Outcome>& outcomes) {
  const Row head = {"image", "µm/px", "U", "k", "division", "graduations", "residual rms", "direction", "notes"};
  Columns layout({false, true, true, true, true, true, true, true, false});
  layout.widen(head);
  for (const Outcome& outcome : outcomes) {
    if (outcome.calibration) layout.widen(calibrated_row(outcome));
    layout.widen_first(printable(outcome.image));
  }
  std::string text = layout.line(head) + layout.rule();
  for (const Outcome& outcome : outcomes)
    text += outcome.calibration ? layout.line(calibrated_row(outcome)) : refused_line(layout, outcome);
  return text + layout.rule() + count_words(outcomes) + meaning_of(outcomes);
}

}  // namespace gradus
