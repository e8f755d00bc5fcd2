#include "results_csv.h"

#include <algorithm>

#include "csv_line.h"
#include "text.h"

namespace gradus {
namespace {

constexpr const char* kHeader =
    "image,status,um_per_pixel,expanded_uncertainty_um_per_pixel,coverage_factor,fit_uncertainty_um_per_pixel,"
    "fit_degrees_of_freedom,budget_complete,pixels_per_um,expanded_uncertainty_pixels_per_um,division_um,"
    "direction_1_deg,pitch_1_px,pitch_1_fit_uncertainty_px,graduations_1,missing_1,residual_rms_1_um,residual_max_1_um,"
    "nonlinearity_max_1_um,false_alarm_1,um_per_pixel_1,"
    "direction_2_deg,pitch_2_px,pitch_2_fit_uncertainty_px,graduations_2,missing_2,residual_rms_2_um,residual_max_2_um,"
    "nonlinearity_max_2_um,false_alarm_2,um_per_pixel_2,"
    "warnings,reason_code,reason,"
    "setup,setup_um_per_pixel,setup_expanded_uncertainty_um_per_pixel,setup_coverage_factor,record,"
    "um_per_division,expanded_uncertainty_um_per_division,coverage_factor_of_division\n";

constexpr int kFactorFields = 9;  // um_per_pixel .. division_um
constexpr int kAxisFields = 10;   // direction_1_deg .. um_per_pixel_1
constexpr int kSetupFields = 4;   // setup_um_per_pixel .. record
constexpr int kReticleFields = 3;

void add_factor(CsvLine& line, const Outcome& outcome) {
  if (!outcome.calibration) {
    line.empty(kFactorFields);
    return;
  }
  const scale::Calibration& c = *outcome.calibration;
  line.number(c.um_per_pixel.value).number(c.um_per_pixel.expanded_uncertainty).number(c.um_per_pixel.coverage_factor);
  line.number(c.fit_uncertainty).number(c.fit_degrees_of_freedom).text(c.budget_complete ? "true" : "false");
  line.number(c.pixels_per_um.value).number(c.pixels_per_um.expanded_uncertainty).number(outcome.division_um);
}

void add_axis(CsvLine& line, const Outcome& outcome, std::size_t index) {
  if (index >= outcome.axes.size()) {
    line.empty(kAxisFields);
    return;
  }
  const AxisOutcome& pixels = outcome.axes[index];
  const scale::CalibratedAxis& length = outcome.calibration->axes[index];
  line.number(pixels.direction_deg).number(pixels.pitch_px).number(pixels.pitch_fit_uncertainty_px);
  line.text(std::to_string(pixels.graduations)).text(std::to_string(pixels.missing));
  line.number(length.residual_rms_um).number(length.residual_max_um).number(length.nonlinearity_max_um);
  line.number(pixels.false_alarm).number(length.um_per_pixel);
}

std::string warning_codes(const Outcome& outcome) {
  std::string codes;
  for (const scale::Warning& warning : outcome.warnings) codes += (codes.empty() ? "" : ";") + warning.code;
  return codes;
}

void add_setup(CsvLine& line, const Outcome& outcome, const std::vector<SetupOutcome>& setups) {
  line.text(valid_utf8(outcome.setup));
  const auto own = std::find_if(setups.begin(), setups.end(),
                                [&](const SetupOutcome& setup) { return setup.name == outcome.setup; });
  if (own == setups.end() || !own->calibration) {
    line.empty(kSetupFields);
    return;
  }
  const scale::CalibrationFactor& factor = own->calibration->um_per_pixel;
  line.number(factor.value).number(factor.expanded_uncertainty).number(factor.coverage_factor);
  line.text(own->record ? std::to_string(own->record->number) : "");
}

void add_reticle(CsvLine& line, const Outcome& outcome) {
  if (!outcome.reticle) {
    line.empty(kReticleFields);
    return;
  }
  const scale::CalibrationFactor& factor = outcome.reticle->um_per_division;
  line.number(factor.value).number(factor.expanded_uncertainty).number(factor.coverage_factor);
}

std::string row(const Outcome& outcome, const std::vector<SetupOutcome>& setups) {
  CsvLine line;
  line.text(valid_utf8(outcome.image)).text(outcome.calibration ? "calibrated" : "refused");
  add_factor(line, outcome);
  add_axis(line, outcome, 0);
  add_axis(line, outcome, 1);
  line.text(warning_codes(outcome)).text(outcome.reason.code).text(valid_utf8(outcome.reason.message));
  add_setup(line, outcome, setups);
  add_reticle(line, outcome);
  return line.ended();
}

}  // namespace

std::string calibration_csv(const std::vector<Outcome>& outcomes, const std::vector<SetupOutcome>& setups) {
  std::string text = kHeader;
  for (const Outcome& outcome : outcomes) text += row(outcome, setups);
  return text;
}

}  // namespace gradus
