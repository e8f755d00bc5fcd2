// The overview of a room: every set-up at a glance.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <scale/calibration.h>
#include <scale/report.h>

namespace scale {

// `images_astray`: the factor is in order, but images lie with the set-up's that a check found not to belong there.
enum class SetupState { in_order, due_soon, images_astray, overdue, not_calibrated, drifted };

struct SparkPoint {
  std::string made_at;
  double value = 0.0;  // relative change against the calibration
  bool within = true;
};

struct OverviewRow {
  std::string setup, optics;
  std::string page;  // relative address of its sheet; empty: none
  std::optional<CalibrationFactor> factor;
  std::string unit = "µm/px";
  std::string calibrated, due;  // days; empty: not known
  SetupState state = SetupState::not_calibrated;
  std::string remark;  // what the state rests on, in words
  std::vector<SparkPoint> checks;
  std::string checks_page{};  // relative address of the page of its checks; empty: none
  std::string checked{};      // images by their last verdict, in words; empty: none was checked
};

struct RoomOverview {
  std::string room, laboratory, address;
  std::vector<OverviewRow> rows;
  std::vector<std::pair<std::string, std::string>> further;  // other pages: title, relative address
  std::vector<std::pair<std::string, std::string>> refused;  // images of a run: path, reason
  std::optional<ChainState> chain;
};

std::string overview_page(const RoomOverview& overview, const PageStyle& style);

}  // namespace scale
