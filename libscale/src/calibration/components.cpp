#include "calibration/components.h"

#include <algorithm>
#include <cmath>

#include "calibration/budget.h"

namespace scale::calibration {
namespace {

// Glass whose kind nobody states: between fused silica (0.55e-6 /K) and soda-lime (9.1e-6 /K).
constexpr Expansion kUnknownGlass{4.8e-6, 4.3e-6};

// A slide of 25 mm that stands up by 0.4 mm at one side would be noticed (judgement, no source).
constexpr double kSteepestDegrees = 1.0;

constexpr double kWavelengthUm = 0.55;  // green light, where the eye and a grey camera see most
// Focal length of the tube lens, or the tube length of finite objectives: the shortest in common use (no source).
constexpr double kTubeLengthUm = 160e3;

// Depth of field, lambda / NA^2 (textbook formula for air, from memory), in micrometres.
double depth_of_field(double aperture) { return kWavelengthUm / (aperture * aperture); }

Expansion expansion_of(const ReferenceScale& scale) { return scale.expansion.value_or(kUnknownGlass); }

double warmer_by(const ReferenceScale& scale, const SetupConditions& conditions) {
  return conditions.room ? conditions.room->value - scale.certificate_temperature : 0.0;
}

struct Steepest {
  double limit;  // radians
  std::string from;
};

Steepest steepest(const SetupConditions& conditions, double span_um) {
  if (conditions.stated.slope) return {conditions.stated.slope->value, "as stated"};
  const double limit = radians_from_degrees(kSteepestDegrees).value;
  if (conditions.aperture && depth_of_field(*conditions.aperture) / span_um < limit)
    return {depth_of_field(*conditions.aperture) / span_um, "the depth of field over the span in view"};
  return {limit, "no slide is laid steeper unnoticed"};
}

}  // namespace

double temperature_factor(const ReferenceScale& scale, const SetupConditions& conditions) {
  return 1.0 + expansion_of(scale).value * warmer_by(scale, conditions);
}

BudgetLine temperature_line(const ReferenceScale& scale, const SetupConditions& conditions, double factor) {
  if (!conditions.room) return unstated_line(kTemperatureLine, "the temperature of the room is not stated");
  BudgetLine line;
  line.input = {kTemperatureLine,
                conditions.room->value,
                standard_uncertainty_within(conditions.room->limits),
                Distribution::rectangular,
                kInfinity,
                factor * expansion_of(scale).value};
  line.unit = "degC";
  line.contribution = std::abs(line.input.sensitivity) * line.input.standard_uncertainty;
  line.basis = "room at (" + in_words(conditions.room->value) + " ± " + in_words(conditions.room->limits) + ") °C";
  return line;
}

BudgetLine expansion_line(const ReferenceScale& scale, const SetupConditions& conditions, double factor) {
  if (!conditions.room) return unstated_line(kExpansionLine, "the temperature of the room is not stated");
  const Expansion expansion = expansion_of(scale);
  const double warmer = warmer_by(scale, conditions);
  BudgetLine line;
  line.input = {
      kExpansionLine, expansion.value, standard_uncertainty_within(expansion.half_width), Distribution::rectangular,
      kInfinity,      factor * warmer};
  line.unit = "1/K";
  // Second order (JCGM 100, 5.1.2, note): at the certificate's own temperature the first order vanishes.
  line.contribution = factor * line.input.standard_uncertainty *
                      std::hypot(warmer, standard_uncertainty_within(conditions.room->limits));
  constexpr double kMillion = 1e6;
  line.basis.append("(").append(in_words(kMillion * expansion.value)).append(" ± ");
  line.basis.append(in_words(kMillion * expansion.half_width)).append(") × 10⁻⁶ /K");
  line.basis.append(scale.expansion ? ", as stated, " : ", as the kind of glass is not stated, ");
  line.basis.append(in_words(warmer)).append(" K from the certificate's temperature");
  return line;
}

double mean_cosine(double limit) { return limit > 0.0 ? std::sin(limit) / limit : 1.0; }

double slope_factor(const SetupConditions& conditions, double span_um) {
  return mean_cosine(steepest(conditions, span_um).limit);
}

double room_factor(const ReferenceScale& scale, const SetupConditions& conditions, double span_um) {
  return temperature_factor(scale, conditions) * slope_factor(conditions, span_um);
}

BudgetLine slope_line(const SetupConditions& conditions, double span_um, double factor) {
  const auto [limit, from] = steepest(conditions, span_um);
  BudgetLine line;
  line.input = {kSlopeLine, 0.0, standard_uncertainty_within(limit), Distribution::rectangular, kInfinity, 0.0};
  line.unit = "rad";
  // The mean of 1 - cos is taken out by slope_factor; the variance of theta^2 / 2 about it is limit^4 / 45.
  line.contribution = factor * limit * limit / std::sqrt(45.0);
  line.basis = "within " + in_words(degrees(Radians{limit})) + "°: " + from;
  return line;
}

BudgetLine refocusing_line(const SetupConditions& conditions, double factor) {
  constexpr const char* kName = "refocusing";
  if (conditions.stated.refocusing) return limits_line(kName, *conditions.stated.refocusing, factor, "as stated");
  if (conditions.refocused_between_shots)
    return limits_line(kName, 0.0, factor, "the shots were refocused: in the repeatability");
  if (!conditions.aperture || !conditions.magnification)
    return unstated_line(kName, "neither stated nor are magnification and aperture");
  // Out of focus by dz the image grows by dz over the focal length of the objective, unless it is telecentric.
  const double focal_length = kTubeLengthUm / *conditions.magnification;
  return limits_line(kName, 0.5 * depth_of_field(*conditions.aperture) / focal_length, factor,
                     "half the depth of field over the focal length of the objective");
}

std::vector<BudgetLine> eyepiece_lines(const ReferenceScale& scale, const SetupConditions& conditions, double span_um,
                                       BudgetLine field, std::size_t mounts, double factor) {
  std::vector<BudgetLine> lines = {temperature_line(scale, conditions, factor),
                                   expansion_line(scale, conditions, factor), slope_line(conditions, span_um, factor),
                                   std::move(field)};
  lines.push_back(
      conditions.stated.refocusing
          ? refocusing_line(conditions, factor)
          : unstated_line("refocusing", "the eyepiece's focus changes the factor; state budget.refocusing"));
  if (conditions.stated.repeatability)
    lines.push_back(relative_line("repeatability",
                                  *conditions.stated.repeatability / std::sqrt(static_cast<double>(mounts)), factor,
                                  Distribution::normal, kInfinity, "as stated"));
  return lines;
}

}  // namespace scale::calibration
