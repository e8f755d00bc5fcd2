// The set-ups of a run for people, on standard output.
#pragma once

#include <string>
#include <vector>

#include "setups.h"

namespace gradus {

// One row a set-up; flags and warnings beneath.
std::string setups_table(const std::vector<SetupOutcome>& setups);

// One table a set-up: every component with its standard uncertainty, degrees of freedom, contribution and basis; the
// sum, k and U; what shots, separation and Monte Carlo say.
std::string budget_tables(const std::vector<SetupOutcome>& setups);

}  // namespace gradus
