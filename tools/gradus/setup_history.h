// A set-up's checks over time: control charts, since when, how much.
#pragma once

#include <scale/chart_svg.h>
#include <scale/failure.h>
#include <scale/lab.h>

#include <optional>
#include <string>
#include <vector>

#include "checked_before.h"

namespace gradus {

struct ChartChoice {
  scale::ChartSettings settings;
  std::size_t base = 0;     // shots of the agreed base period; 0: limits from the budget
  bool until_then = false;  // limits from the budget until these shots are there; else there is no chart
};

// What the lab file says of a set-up's charts.
ChartChoice agreed_charts(const scale::Lab& lab, const std::string& setup);

struct SetupHistory {
  std::string setup;
  std::int64_t calibration = 0;
  std::vector<RecordedCheck> shots;  // with a scale, in order; those that belong to another set-up left out
  std::string source;                // where the limits come from, in words
  std::string problem;               // why there is no chart; empty when there is one
  std::optional<scale::ControlChart> chart;
  scale::ChangePoint change;
  std::optional<scale::LineChart> line;  // low, middle and high spacings
  std::string line_problem;

  // What the charts say, as {code, message}: chart-beyond, chart-ewma, chart-cusum, chart-line.
  std::vector<scale::Warning> alerts() const;
  // Since when and how much, in a sentence; empty: nothing has changed.
  std::string change_words() const;
};

SetupHistory history_of(const std::string& setup, std::int64_t calibration, const std::vector<RecordedCheck>& checks,
                        const ChartChoice& choice);

// gradus/history/1, a table for people, and a picture.
std::string history_json(const SetupHistory& history);
std::string history_text(const SetupHistory& history);
// Title, days and source of the picture.
scale::ControlChartText chart_words(const SetupHistory& history);
std::string history_svg(const SetupHistory& history);

}  // namespace gradus
