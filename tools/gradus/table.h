// The table for people, on standard output.
#pragma once

#include <string>
#include <vector>

#include "outcome.h"

namespace gradus {

// UTF-8, columns aligned, one row an image; beneath it what the numbers mean. Factors are rounded to two digits
// of their expanded uncertainty (JCGM 100, 7.2.6).
std::string table_of(const std::vector<Outcome>& outcomes);

}  // namespace gradus
