// The page of a check: verdicts, control charts, evidence.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include <scale/chart_svg.h>
#include <scale/drift.h>
#include <scale/report.h>

namespace scale {

struct CheckedImage {
  std::string image, setup, taken_at;
  Verdict verdict = Verdict::unverifiable;
  std::optional<double> relative_change, expanded_uncertainty, en;  // of the direction that decides
  std::string looks_like;                                           // in words; empty: its own set-up
  std::vector<Evidence> evidence;
};

// A set-up's checks over time.
struct SetupChecks {
  std::string setup;
  std::optional<std::int64_t> calibration;  // record that images are held against; absent: not calibrated
  std::array<std::size_t, 4> count{};       // images by verdict
  std::string last_good;                    // UTC; empty: not since the calibration
  std::string affected;                     // what rests on the set-up since then, in words; empty: nothing drifted
  std::string change;                       // since when and how much, in words; empty: no change seen
  std::vector<Warning> alerts;              // of the charts
  std::optional<ControlChart> chart;
  ChangePoint change_point;
  std::optional<LineChart> line;  // of low, middle and high spacings
  ControlChartText text;
  std::string problem;  // why there is no chart
};

struct CheckPage {
  std::string title;  // "Check of 2026-03-02", or the set-up
  std::string room, laboratory, address;
  std::string checked_at;  // UTC; empty: of several runs
  std::vector<CheckedImage> images;
  std::vector<SetupChecks> setups;
  std::size_t skipped = 0;  // checked before and unchanged
  std::optional<ChainState> chain;
};

// Images that have drifted or do not belong stand first, each with its evidence; of the rest the first 200.
std::string check_page(const CheckPage& check, const PageStyle& style);

}  // namespace scale
