// The components of a set-up's budget that no ruling shows: what a laboratory states, or a default with its source.
//
// Every function gives one line; what is neither stated nor has a default comes back as not stated. The sources of the
// defaults are in docs/uncertainty.md.
#pragma once

#include <vector>

#include <scale/setup.h>

namespace scale::calibration {

// Names of lines whose input is physical and not a share of the factor; `propagate` puts them through the model.
inline constexpr const char* kTemperatureLine = "temperature of the scale";
inline constexpr const char* kExpansionLine = "expansion of the scale";
inline constexpr const char* kSlopeLine = "slope of the slide";

// Factor at the room's temperature over the factor at the certificate's; 1 when one of them is not stated.
double temperature_factor(const ReferenceScale& scale, const SetupConditions& conditions);

BudgetLine temperature_line(const ReferenceScale& scale, const SetupConditions& conditions, double factor);
BudgetLine expansion_line(const ReferenceScale& scale, const SetupConditions& conditions, double factor);

// A slide at an angle theta to the plane of focus shows cos(theta) of its lengths, which makes a factor too large and
// never too small. The factor is multiplied by the mean of the cosine for an angle with even probability within the
// limit L, sin(L) / L (a correction for a one-sided effect: JCGM 100, F.2.4.4); the budget has what scatters about that
// mean. `span_um` is what was seen in focus.
double slope_factor(const SetupConditions& conditions, double span_um);
double mean_cosine(double limit);  // of angles with even probability within `limit` radians
// Both corrections of a factor that the room asks for: temperature and slope.
double room_factor(const ReferenceScale& scale, const SetupConditions& conditions, double span_um);

BudgetLine slope_line(const SetupConditions& conditions, double span_um, double factor);

BudgetLine refocusing_line(const SetupConditions& conditions, double factor);

// What the room adds to a reticle's division, however it was found; `field` in its place among them, `mounts` how often
// the slide was laid anew.
std::vector<BudgetLine> eyepiece_lines(const ReferenceScale& scale, const SetupConditions& conditions, double span_um,
                                       BudgetLine field, std::size_t mounts, double factor);

}  // namespace scale::calibration
