// gradus register new-lab: a lab file to begin with.
#pragma once

#include <string>

namespace gradus {

// The file's text: every key with its meaning, of an invented room, and valid as it stands.
const char* new_lab_text();

// Writes it where there is no file yet. The exit code.
int write_new_lab(const std::string& path);

}  // namespace gradus
