// gradus report: the pages of a room, from its lab file and register.
#pragma once

#include <CLI/App.hpp>
#include <string>

#include "report_pages.h"

namespace gradus {

struct ReportOptions {
  std::string lab;
  std::string setup;  // only the sheet of this one; empty: all
  ReportPlan plan;    // printed_at empty: now
};

// Adds the verb to `app`. Parsing fills `options` and touches no file.
CLI::App* setup_report(CLI::App& app, ReportOptions& options);

// The exit code: 0 written; 1 written, but a record could not be understood, or nothing written as the
// register is not as it was written; 2 bad usage, no register, or a page that could not be written.
int run_report(const ReportOptions& options);

}  // namespace gradus
