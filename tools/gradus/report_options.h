// The options that say what pages look like, the same on every verb that writes some.
#pragma once

#include <CLI/CLI.hpp>

#include "report_pages.h"

namespace gradus {

// --report with `help`, --pdf and --decimal-comma, and --embed, which pages without `pictures` refuse with the reason.
void add_report_options(CLI::App& verb, ReportPlan& plan, const std::string& help, bool pictures = true);

// What is wrong with the options together; empty when they fit.
std::string report_misfit(const ReportPlan& plan);

}  // namespace gradus
