// A page as PDF, by a Chromium on this machine.
#pragma once

#include <string>

namespace gradus {

// The program, or empty when the machine has none.
std::string chromium_path();

// Prints the HTML file `page` to `pdf`, whole or not at all. The problem in one line, empty when done.
std::string print_pdf(const std::string& page, const std::string& pdf);

}  // namespace gradus
