// The table for people, on standard output.
#pragma once

#include <string>
#include <vector>

#include "columns.h"
#include "outcome.h"

namespace gradus {

// UTF-8, columns aligned, one row an image; beneath it what the numbers mean. Factors are rounded to two digits
// of their expanded uncertainty (JCGM 100, 7.2.6).
std::string table_of(const std::vector<Outcome>& outcomes);

// Of every table with a row an image: what calls for a look, "missing" and codes of warnings; the row of a refused
// image; how many there are of each.
std::string notes_of(const Outcome& outcome);
std::string refused_line(const Columns& layout, const Outcome& outcome);
std::string count_words(const std::vector<Outcome>& outcomes);

}  // namespace gradus
