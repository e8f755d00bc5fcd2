#include "flags.h"

#include <cmath>

#include "budget_table.h"
#include "text.h"

namespace gradus {
namespace {

using Flags = std::vector<scale::Warning>;

// Beyond this the engraving is not the cause: another objective, relay lens, binning or division is (judgement; an
// objective may be off by 5 % by ISO 8039, as reported).
constexpr double kWrongOptics = 0.10;

void flag_nominal(Flags& flags, const JudgedFactor& judged, const scale::LabSetup& setup) {
  if (!judged.nominal) return;
  const double ratio = judged.factor.value / *judged.nominal, off = std::abs(ratio - 1.0);
  if (off <= optics_tolerance(setup)) return;
  const std::string seen = "the factor is " + percent(off) + (ratio > 1.0 ? " above" : " below") +
                           " the nominal one of " + shortest(*judged.nominal) + " µm/" + judged.per;
  const std::string suspects =
      judged.per == "px" ? "objective, binning, relay lens or division" : "objective, zoom, reticle or division";
  if (off > kWrongOptics)
    flags.push_back({"wrong-optics", seen + "; suspect the wrong " + suspects});
  else
    flags.push_back(
        {"off-nominal", seen + ", beyond the tolerance of " + percent(optics_tolerance(setup)) + " on the optics"});
}

void flag_certificate(Flags& flags, const scale::LabScale& scale, const std::chrono::year_month_day& today) {
  if (scale.recalibrate_by && today > *scale.recalibrate_by)
    flags.push_back({"certificate-overdue", "the certificate of " + scale.name + " ran out on " +
                                                date_words(*scale.recalibrate_by) + "; have it calibrated"});
  if (scale.calibrated && today < *scale.calibrated)
    flags.push_back({"certificate-not-yet-valid", "the certificate of " + scale.name + " is of " +
                                                      date_words(*scale.calibrated) +
                                                      ", after the date of this calibration"});
}

void flag_tolerance(Flags& flags, const JudgedFactor& judged, const scale::LabSetup& setup) {
  if (!setup.tolerance) return;
  const scale::CalibrationFactor& factor = judged.factor;
  if (factor.expanded_uncertainty > *setup.tolerance * factor.value)
    flags.push_back({"uncertainty-beyond-tolerance",
                     "the expanded uncertainty is " + percent(factor.expanded_uncertainty / factor.value) +
                         ", more than the tolerance of " + percent(*setup.tolerance) + " on the factor"});
  if (!judged.before) return;
  const double change = factor.value / judged.before->value - 1.0;
  if (std::abs(change) > *setup.tolerance)
    flags.push_back({"beyond-tolerance", "the factor is " + percent(std::abs(change)) +
                                             (change > 0.0 ? " above" : " below") + " that of record " +
                                             std::to_string(judged.before->number) + ", more than the " +
                                             percent(*setup.tolerance) + " of the tolerance"});
}

}  // namespace

std::string date_words(const std::chrono::year_month_day& date) {
  const auto padded = [](unsigned value) {
    std::string text = value < 10 ? "0" : "";
    return text.append(std::to_string(value));
  };
  return std::to_string(static_cast<int>(date.year())) + "-" + padded(static_cast<unsigned>(date.month())) + "-" +
         padded(static_cast<unsigned>(date.day()));
}

double optics_tolerance(const scale::LabSetup& setup) {
  return setup.objective_tolerance + setup.relay_tolerance + setup.tube_lens_tolerance;
}

std::vector<scale::Warning> flags_of(const JudgedFactor& judged, const scale::LabSetup& setup,
                                     const scale::LabScale& scale, const std::chrono::year_month_day& today) {
  Flags flags;
  flag_nominal(flags, judged, setup);
  flag_certificate(flags, scale, today);
  flag_tolerance(flags, judged, setup);
  return flags;
}

}  // namespace gradus
