// The one-line messages of the tool, on standard error.
#pragma once

#include <string>

namespace gradus {

// "gradus: MESSAGE"; control characters, as in hostile file names, cannot break the line.
void complain(const std::string& message);

// "gradus: warning: MESSAGE"
void warn(const std::string& message);

}  // namespace gradus
