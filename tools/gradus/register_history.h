// gradus register history: a set-up's checks as text, JSON and a chart.
#pragma once

#include <scale/register.h>

#include <CLI/App.hpp>
#include <optional>
#include <string>
#include <vector>

#include "setup_history.h"

namespace gradus {

struct HistoryOptions {
  std::string json, svg;  // files; "-" is standard output, empty is none
  ChartChoice charts;
  std::string lab;  // that agrees on a base period; empty: lab.toml beside the register, where there is one
};

void add_history_options(CLI::App& verb, HistoryOptions& options);

// The charts that were asked for, or that the lab file agrees on. None, with the complaint made: it could not be used.
std::optional<ChartChoice> charts_of(const HistoryOptions& options, const std::string& setup,
                                     const std::string& register_file);

// The charts of the set-up's checks against its current calibration. `text` is what stands before them on standard
// output. The exit code: 0 done, 2 an output could not be written.
int write_history(const std::vector<scale::ListedRecord>& records, const std::string& setup, const std::string& text,
                  const HistoryOptions& options, const ChartChoice& charts);

}  // namespace gradus
