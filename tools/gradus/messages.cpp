#include "messages.h"

#include <iostream>

#include "text.h"

namespace gradus {

void complain(const std::string& message) { std::cerr << "gradus: " + printable(message) + '\n'; }

void warn(const std::string& message) { complain("warning: " + message); }

}  // namespace gradus
