// A check for people: a table, or the short list of what is wrong.
#pragma once

#include <string>

#include "check_json.h"

namespace gradus {

std::string check_table(const CheckRun& run);

// One line an image that has drifted or does not belong, and what rests on it; empty when all is well.
std::string check_list(const CheckRun& run);

}  // namespace gradus
