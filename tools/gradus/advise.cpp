#include "advise.h"

#include <algorithm>
#include <cmath>

#include "columns.h"
#include "lab_room.h"
#include "messages.h"
#include "outputs.h"
#include "text.h"

namespace gradus {
namespace {

constexpr double kLeastPitchPx = 3.0;      // closer lines run into each other on the sensor
constexpr double kLeastGraduations = 5.0;  // fewer leave a picture of low confidence
constexpr double kWavelengthUm = 0.55;
constexpr double kLineUncertaintyPx = 0.01;  // of one line's centre in a fair picture (docs/performance.md)

std::string per_cent(double share) { return fixed(100.0 * share, 3).append(" %"); }

// Two points are told apart from 0.61 lambda / NA on (Rayleigh).
double resolution_um(double aperture) { return 0.61 * kWavelengthUm / aperture; }

void find_faults(Suitability& result, const scale::LabScale& scale, const scale::LabSetup& setup) {
  const double division = scale.reference.division.value;
  if (result.pitch_px < kLeastPitchPx)
    result.faults.push_back("lines " + fixed(result.pitch_px, 1) + " px apart, at least 3 are needed");
  if (result.graduations < kLeastGraduations)
    result.faults.push_back("only " + fixed(std::floor(result.graduations), 0) +
                            " graduations in view, at least 5 are "
                            "needed");
  if (!setup.conditions.aperture) return;
  const double resolution = resolution_um(*setup.conditions.aperture);
  if (division < 2.0 * resolution)
    result.faults.push_back("a division of " + shortest(division) + " µm is less than twice the resolution of " +
                            fixed(resolution, 2) + " µm");
  // Beyond a quarter of the field a line's ragged edges show, and its centre is no longer one place (judgement).
  if (scale.line_width && scale.line_width->value > 0.5 * division)
    result.faults.push_back("lines of " + shortest(scale.line_width->value) + " µm fill half a division");
  // Spread over the resolution, such a line keeps about a tenth of its contrast (judgement).
  if (scale.line_width && scale.line_width->value < 0.1 * resolution)
    result.faults.push_back("lines of " + shortest(scale.line_width->value) +
                            " µm are less than a tenth of the resolution of " + fixed(resolution, 2) +
                            " µm: too faint");
  if (scale.line_width && scale.line_width->value > 20.0 * resolution)
    result.faults.push_back("lines of " + shortest(scale.line_width->value) +
                            " µm are more than 20 times the resolution of " + fixed(resolution, 2) +
                            " µm: their own edges show");
}

double expected_uncertainty(const Suitability& seen, const scale::LabScale& scale, const scale::LabSetup& setup) {
  const double division = scale.reference.division.value;
  const double lines = std::max(2.0, std::floor(seen.graduations)), span = (lines - 1.0) * division;
  double variance = 0.0;
  if (const auto& stated = scale.reference.uncertainty)
    variance += std::pow((stated->constant.value / span + stated->per_length) / stated->coverage_factor, 2);
  variance += std::pow(scale::temperature_uncertainty(scale.reference, setup.conditions), 2);
  // N equal lines: u(pitch) = u(line) sqrt(12 / (N (N^2 - 1))).
  variance += std::pow(kLineUncertaintyPx / seen.pitch_px, 2) * 12.0 / (lines * (lines * lines - 1.0));
  return 2.0 * std::sqrt(variance);
}

// What keeps a set-up from being judged; empty when nothing does.
std::string missing_words(const scale::LabSetup& setup) {
  if (!setup.nominal()) return "state pixel_pitch and the objective's magnification";
  return setup.image_size ? "" : "state image_size";
}

std::vector<std::string> row_of(const scale::Lab& lab, const scale::LabSetup& setup, const scale::LabScale& scale) {
  const Suitability seen = suitability(scale, setup);
  std::string verdict = &scale == &lab.scales[setup.scale] ? "suits, and is the one used" : "suits";
  if (!seen.faults.empty()) {
    verdict = &scale == &lab.scales[setup.scale] ? "IS USED, and does not suit: " : "does not suit: ";
    for (std::size_t i = 0; i < seen.faults.size(); ++i) verdict.append(i > 0 ? "; " : "").append(seen.faults[i]);
  }
  return {printable(setup.name),
          printable(scale.name),
          fixed(std::floor(seen.graduations), 0),
          fixed(seen.pitch_px, 1),
          seen.uncertainty_stated ? per_cent(seen.relative_uncertainty) : "scale not stated",
          verdict};
}

}  // namespace

Suitability suitability(const scale::LabScale& scale, const scale::LabSetup& setup) {
  Suitability result;
  const double factor = setup.nominal()->value, division = scale.reference.division.value;
  const auto& size = *setup.image_size;
  const double field_um = factor * std::max(size[0], size[1]);
  result.pitch_px = division / factor;
  result.graduations = std::min(field_um / division, scale.reference.divisions + 1.0);
  result.uncertainty_stated = scale.reference.uncertainty.has_value();
  result.relative_uncertainty = expected_uncertainty(result, scale, setup);
  find_faults(result, scale, setup);
  return result;
}

int advise(const std::string& lab_file) {
  std::vector<std::string> problems;
  const std::optional<LabRoom> room = read_lab_room(lab_file, problems);
  for (const std::string& problem : problems) complain(problem);
  if (!room) return 2;
  const std::vector<std::string> head = {"set-up", "scale", "graduations", "pitch, px", "expected U", "advice"};
  Columns columns({false, false, true, true, true, false});
  std::vector<std::vector<std::string>> rows;
  bool all_suited = true;
  for (const scale::LabSetup& setup : room->lab.setups) {
    if (setup.reticle) continue;
    if (const std::string missing = missing_words(setup); !missing.empty()) {
      rows.push_back({printable(setup.name), "", "", "", "", missing});
      continue;
    }
    bool suited = false;
    for (const scale::LabScale& scale : room->lab.scales) {
      suited = suited || suitability(scale, setup).faults.empty();
      rows.push_back(row_of(room->lab, setup, scale));
    }
    all_suited = all_suited && suited;
  }
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  text += columns.rule();
  text +=
      "Expected U (k = 2) holds the certificate, the room's temperature and the noise of the lines; slope, field,\n"
      "repeatability and the x-y difference come on top.\n";
  const std::string problem = deliver("-", text);
  if (!problem.empty()) complain(problem);
  return !problem.empty() ? 2 : all_suited ? 0 : 1;
}

}  // namespace gradus
