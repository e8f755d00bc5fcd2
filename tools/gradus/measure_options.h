// The options of `measure`.
#pragma once

#include "measure.h"

namespace gradus {

void add_measure_options(CLI::App& verb, MeasureOptions& options);

// What options say together that does not fit, with the next step; empty when they fit.
std::string measure_misfit(const MeasureOptions& options);

}  // namespace gradus
