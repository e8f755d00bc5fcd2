// A page as PDF, by a Chromium on this machine.
#pragma once

#include <string>

namespace gradus {

// The program, or empty when the machine has none.
std::string chromium_path();

// A path as an address: what is not plain is written as %XX (RFC 3986).
std::string address_of(const std::string& path);

// Prints the HTML file `page` to `pdf`, whole or not at all. The problem in one line, empty when done.
std::string print_pdf(const std::string& page, const std::string& pdf);

}  // namespace gradus
